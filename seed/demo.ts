import { randomInt, randomUUID } from 'node:crypto';
import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { demoEventAt } from './demo-data.ts';
import { apiClient, type Call, listOf, textOf } from './demo/api-client.ts';
import { BARRED_CAR, WALK_CAR } from './demo/entries-novice.ts';
import { isAsPlanned, statusAfter } from './demo/plan.ts';
import { type Cast, playEntries, type Scene } from './demo/play.ts';
import {
  findEvent,
  finishEvent,
  listStaged,
  stageEntries,
  stageEvent,
  stageGroups,
  type StagedEntry,
} from './demo/stage.ts';
import { walkEnvironment, type WalkSummary } from './walk.ts';

export interface DemoInput {
  /** of the server, without `/v1` */
  baseUrl: string;
  organizerToken: string;
  /** told now and then how many of the entries are done */
  progress?(done: number, all: number): void;
}

export interface DemoSummary extends WalkSummary {
  eventName: string;
  /** false: it was there already, from earlier today */
  created: boolean;
  entries: number;
  /** entries by what the gate says of them */
  statuses: Readonly<Record<string, number>>;
  /** as given to `walkEnvironment`; staff tokens are new at each run */
  tokens: Cast & { entrant: string };
}

/** What setting up needs besides the event to go on with. */
type Setting = Pick<Scene, 'call' | 'event' | 'progress'> & { organizer: string };

interface Found {
  cast: Cast;
  eventId: string;
  name: string;
  entries: readonly StagedEntry[];
  created: boolean;
}

async function mintCast(call: Call, organizer: string, eventId: string): Promise<Cast> {
  const mint = async (role: string, holder: string): Promise<string> =>
    textOf(
      await call('POST', '/v1/tokens', { token: organizer, body: { role, holder, eventIds: [eventId] } }),
      'token',
    );
  return {
    organizer,
    chief: await mint('chief', 'Jonas Aldergaard'),
    inspector: await mint('inspector', 'Mara Oyelaran'),
    marshal: await mint('marshal', 'Gate phone 1'),
  };
}

async function readStatuses(call: Call, cast: Cast, eventId: string): Promise<Map<string, string>> {
  const gate = await call('GET', `/v1/events/${eventId}/gate`, { token: cast.marshal });
  return new Map(listOf(gate, 'entries').map((row) => [String(row['entryId']), String(row['status'])]));
}

async function assertPlayed(call: Call, { cast, eventId, entries }: Found): Promise<void> {
  const statuses = await readStatuses(call, cast, eventId);
  const wrong = entries
    .filter(({ entry, entryId }) => !isAsPlanned(entry, statuses.get(entryId)))
    .map(({ entry, entryId }) => `car ${entry.number} is ${statuses.get(entryId)}, planned ${statusAfter(entry)}`);
  if (wrong.length > 0) throw new Error(`the gate does not say what the demo planned: ${wrong.join('; ')}`);
}

/** Sets up what is missing; with an event that was begun and cut off, from where that stopped. */
async function completeDemo({ call, organizer, event, progress }: Setting, begun?: string): Promise<Found> {
  const eventId = begun ?? (await stageEvent(call, organizer, event));
  const cast = await mintCast(call, organizer, eventId);
  const groups = await stageGroups(call, organizer, eventId, event);
  const entries = await stageEntries(call, organizer, { eventId, groups });
  await playEntries({ call, cast, event, eventId, groups, progress }, entries);
  const found = { cast, eventId, name: event.name, entries, created: true };
  await assertPlayed(call, found);
  await finishEvent(call, organizer, eventId, event.name);
  return found;
}

/** The demo of today: as it is, newly made, or finished where an earlier run was cut off. */
async function findOrComplete(setting: Setting): Promise<Found> {
  const { call, organizer, event } = setting;
  const before = await findEvent(call, organizer, event.name);
  if (before?.complete !== true) return completeDemo(setting, before?.eventId);
  const { eventId } = before;
  const entries = await listStaged(call, organizer, eventId);
  return { cast: await mintCast(call, organizer, eventId), eventId, name: event.name, entries, created: false };
}

function entryIdOf(found: Found, carNumber: string): string {
  const entryId = found.entries.find(({ entry }) => entry.number === carNumber)?.entryId;
  if (entryId === undefined) throw new Error(`the demo has no car ${carNumber}`);
  return entryId;
}

/** One address per page, with the token behind `#`, where the browser keeps it to itself. */
function pageLinks({ baseUrl, tokens }: Pick<DemoSummary, 'baseUrl' | 'tokens'>): string[] {
  const links = [
    [`entrant of car ${WALK_CAR}`, 'garage', tokens.entrant],
    ['inspector', 'line', tokens.inspector],
    ['gate marshal', 'gate', tokens.marshal],
    ['chief inspector', 'office', tokens.chief],
    ['organizer', 'office', tokens.organizer],
  ] as const;
  return links.map(
    ([who, page, token]) => `  ${who.padEnd(18)}${baseUrl.replace(/\/+$/, '')}/${page}#${encodeURIComponent(token)}`,
  );
}

/** The demo in lines for a person: what is in it, where to look, and how to go on. */
export function describeDemo(summary: DemoSummary, where: { publicUrl: string; walkFile: string }): string {
  const statuses = Object.entries(summary.statuses).map(([status, count]) => `${count} ${status}`);
  return [
    '',
    `${summary.eventName}: ${summary.entries} entries (${statuses.join(', ')})`,
    ...(summary.created ? [] : ['It was there already; the keys below are new.']),
    'The pages, each with a key in its address (keep these to yourself):',
    ...pageLinks({ baseUrl: where.publicUrl, tokens: summary.tokens }),
    'The walk of the README, for a shell with curl, begins with its variables:',
    `  . ${where.walkFile}`,
  ].join('\n');
}

/**
 * Fills a running server with an invented event through its API, or finds the one of today, and gives what a walk needs.
 *
 * @throws Error naming the call that failed or the car that came out otherwise than planned
 */
export async function runDemo({ baseUrl, organizerToken, progress }: DemoInput): Promise<DemoSummary> {
  const call = apiClient(baseUrl);
  const { at: now } = await call('GET', '/healthz');
  const found = await findOrComplete({ call, organizer: organizerToken, event: demoEventAt(now), progress });
  const { cast } = found;
  const walkEntryId = entryIdOf(found, WALK_CAR);
  const walker = { role: 'entrant', holder: 'Ines Haldorsen', entryId: walkEntryId };
  const entrant = textOf(await call('POST', '/v1/tokens', { token: organizerToken, body: walker }), 'token');
  const statuses: Record<string, number> = {};
  for (const status of (await readStatuses(call, cast, found.eventId)).values()) {
    statuses[status] = (statuses[status] ?? 0) + 1;
  }
  return {
    baseUrl,
    eventId: found.eventId,
    eventName: found.name,
    created: found.created,
    entries: found.entries.length,
    statuses,
    walkEntryId,
    barredEntryId: entryIdOf(found, BARRED_CAR),
    tokens: { ...cast, entrant },
    once: { submitKey: randomUUID(), signKey: randomUUID(), sticker: `D${randomInt(10_000, 99_999)}` },
  };
}

/** Writes the walk's variables to a file that only its owner can read; `. file` sets them. @returns its path */
export function writeWalkEnvironment(summary: WalkSummary, dataDir: string): string {
  mkdirSync(dataDir, { recursive: true });
  const path = join(dataDir, 'demo.env');
  writeFileSync(path, walkEnvironment(summary), { mode: 0o600 });
  return path;
}
