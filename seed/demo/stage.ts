import { BUILT_IN_RULE_SET } from '../built-in.ts';
import { DEMO_ENTRIES, DEMO_VENUE, type DemoEvent, demoGroups, demoVehicle } from '../demo-data.ts';
import { type ApiAnswer, type Call, forEachOf, listOf, textOf } from './api-client.ts';
import type { DemoEntry, GroupName } from './plan.ts';

/** Requests at the same time; the demo must not look like an attack to a small machine. */
export const WIDTH = 6;

/** An entry as the server knows it. */
export interface StagedEntry {
  entry: DemoEntry;
  entryId: string;
}

async function publishRules(call: Call, token: string): Promise<{ ruleSetId: string; ruleSetVersion: number }> {
  const document = BUILT_IN_RULE_SET;
  const draft = await call('POST', '/v1/rule-sets', { token, body: { name: 'Built-in track-day rules', document } });
  const ruleSetId = textOf(draft, 'ruleSetId');
  const body = { changelog: 'The rules that come with the server.' };
  const published = await call('POST', `/v1/rule-sets/${ruleSetId}/publish`, {
    token,
    body,
    ifMatch: draft.etag ?? '',
  });
  return { ruleSetId, ruleSetVersion: Number(published.body['version']) };
}

/** Makes venue, rule set, event and run groups. @returns the event's id and the ids of its groups */
export async function stageEvent(call: Call, token: string, event: DemoEvent) {
  const venue = await call('POST', '/v1/venues', { token, body: DEMO_VENUE });
  const rules = await publishRules(call, token);
  const made = await call('POST', '/v1/events', { token, body: { ...event, venueId: textOf(venue, 'venueId') } });
  const eventId = textOf(made, 'eventId');
  const groups = new Map<GroupName, string>();
  for (const group of demoGroups(event)) {
    const answer = await call('POST', `/v1/events/${eventId}/run-groups`, { token, body: { ...group, ...rules } });
    groups.set(group.name, textOf(answer, 'runGroupId'));
  }
  return { eventId, groups };
}

/** Enters all cars; a shared car's first entry brings the vehicle, so that it comes before the second. */
export async function stageEntries(
  call: Call,
  token: string,
  { eventId, groups }: { eventId: string; groups: ReadonlyMap<GroupName, string> },
): Promise<StagedEntry[]> {
  const staged: StagedEntry[] = [];
  const enter = async (entry: DemoEntry): Promise<void> => {
    const body = {
      carNumber: entry.number,
      runGroupId: groups.get(entry.group),
      entrant: { name: entry.driver },
      people: [{ name: entry.driver, role: 'driver' }],
      ...(entry.car !== undefined && { vehicle: demoVehicle(entry) }),
    };
    const answer = await call('POST', `/v1/events/${eventId}/entries`, { token, body });
    staged.push({ entry, entryId: textOf(answer, 'entryId') });
  };
  const isFirst = (entry: DemoEntry): boolean => entry.car !== undefined;
  await forEachOf(DEMO_ENTRIES.filter(isFirst), WIDTH, enter);
  await forEachOf(
    DEMO_ENTRIES.filter((entry) => !isFirst(entry)),
    WIDTH,
    enter,
  );
  return staged;
}

async function allPages(call: Call, token: string, path: string, list: string) {
  const rows: Readonly<Record<string, unknown>>[] = [];
  let next: unknown;
  do {
    const cursor = typeof next === 'string' ? `&cursor=${encodeURIComponent(next)}` : '';
    const page: ApiAnswer = await call('GET', `${path}?limit=200${cursor}`, { token });
    rows.push(...listOf(page, list));
    next = page.body['next'];
  } while (typeof next === 'string');
  return rows;
}

/** Events of this name, with ` (2)` and so on behind it where an earlier run was cut off. */
export async function findEvents(
  call: Call,
  token: string,
  name: string,
): Promise<{ eventId: string; name: string }[]> {
  const events = await allPages(call, token, '/v1/events', 'events');
  return events
    .map((event) => ({ eventId: String(event['eventId']), name: String(event['name']) }))
    .filter((event) => event.name === name || event.name.startsWith(`${name} (`));
}

/** The entries of an event that is there already; `undefined` when not all of the demo's are. */
export async function findEntries(call: Call, token: string, eventId: string): Promise<StagedEntry[] | undefined> {
  const rows = await allPages(call, token, `/v1/events/${eventId}/entries`, 'entries');
  const staged = DEMO_ENTRIES.flatMap((entry) => {
    const row = rows.find((one) => one['carNumber'] === entry.number && one['runGroup'] === entry.group);
    return row === undefined ? [] : [{ entry, entryId: String(row['entryId']), row }];
  });
  const isDone = staged.every(
    ({ entry, row }) => entry.verdict === undefined || entry.plan.does === 'save' || isDeclared(row),
  );
  return staged.length === DEMO_ENTRIES.length && isDone
    ? staged.map(({ entry, entryId }) => ({ entry, entryId }))
    : undefined;
}

function isDeclared(row: Readonly<Record<string, unknown>>): boolean {
  const clearance = row['clearance'] as { status?: unknown } | undefined;
  return clearance?.status !== 'no-declaration';
}
