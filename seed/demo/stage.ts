import type { ClearanceStatus } from '../../src/domain/clearance/clearance.ts';
import { BUILT_IN_RULE_SET } from '../built-in.ts';
import { DEMO_ENTRIES, DEMO_VENUE, type DemoEvent, demoGroups, demoVehicle } from '../demo-data.ts';
import { type ApiAnswer, type Call, forEachOf, listOf, textOf } from './api-client.ts';
import type { DemoEntry } from './plan.ts';

/** Requests at the same time; the demo must not look like an attack to a small machine. */
export const WIDTH = 6;

/** An entry as the server knows it. */
export interface StagedEntry {
  entry: DemoEntry;
  entryId: string;
  /** what the gate said of it when it was read */
  status: ClearanceStatus;
}

type Rules = { ruleSetId: string; ruleSetVersion: number };

async function publishRules(call: Call, token: string): Promise<Rules> {
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

/** What an event that is being set up is called: whoever sees it knows that it is not complete. */
export const unfinishedName = (name: string): string => `${name} (being set up)`;

/** Makes venue and event. @returns the event's id */
export async function stageEvent(call: Call, token: string, event: DemoEvent): Promise<string> {
  const venue = await call('POST', '/v1/venues', { token, body: DEMO_VENUE });
  const body = { ...event, name: unfinishedName(event.name), venueId: textOf(venue, 'venueId') };
  return textOf(await call('POST', '/v1/events', { token, body }), 'eventId');
}

/** Gives the event its name: it is complete. */
export async function finishEvent(call: Call, token: string, eventId: string, name: string): Promise<void> {
  const { etag, body } = await call('GET', `/v1/events/${eventId}`, { token });
  if (body['name'] === name) return;
  await call('PATCH', `/v1/events/${eventId}`, { token, body: { name }, ifMatch: etag ?? '' });
}

/** Makes the run groups that are not there yet. @returns the ids of all by name */
export async function stageGroups(call: Call, token: string, eventId: string, event: DemoEvent) {
  const path = `/v1/events/${eventId}/run-groups`;
  const there = listOf(await call('GET', path, { token }), 'runGroups');
  const groups = new Map(there.map((row) => [String(row['name']), String(row['runGroupId'])]));
  const missing = demoGroups(event).filter(({ name }) => !groups.has(name));
  const rules = missing.length > 0 ? (rulesOf(there[0]) ?? (await publishRules(call, token))) : undefined;
  for (const group of missing) {
    const answer = await call('POST', path, { token, body: { ...group, ...rules } });
    groups.set(group.name, textOf(answer, 'runGroupId'));
  }
  return groups;
}

function rulesOf(group: Readonly<Record<string, unknown>> | undefined): Rules | undefined {
  if (group === undefined) return undefined;
  return { ruleSetId: String(group['ruleSetId']), ruleSetVersion: Number(group['ruleSetVersion']) };
}

/**
 * Enters all cars that are not there yet; a shared car's first entry brings the vehicle, so that it comes before the
 * second.
 */
export async function stageEntries(
  call: Call,
  token: string,
  { eventId, groups }: { eventId: string; groups: ReadonlyMap<string, string> },
): Promise<StagedEntry[]> {
  const staged = await listStaged(call, token, eventId);
  const isMissing = (entry: DemoEntry) => !staged.some((one) => one.entry === entry);
  const enter = async (entry: DemoEntry): Promise<void> => {
    const body = {
      carNumber: entry.number,
      runGroupId: groups.get(entry.group),
      entrant: { name: entry.driver },
      people: [{ name: entry.driver, role: 'driver' }],
      ...(entry.car !== undefined && { vehicle: demoVehicle(entry) }),
    };
    const answer = await call('POST', `/v1/events/${eventId}/entries`, { token, body });
    staged.push({ entry, entryId: textOf(answer, 'entryId'), status: 'no-declaration' });
  };
  const [first, second] = [true, false].map((isFirst) =>
    DEMO_ENTRIES.filter((entry) => (entry.car !== undefined) === isFirst && isMissing(entry)),
  );
  await forEachOf(first ?? [], WIDTH, enter);
  await forEachOf(second ?? [], WIDTH, enter);
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

/** The demo of this name: complete, or one whose setting up was cut off; undefined when there is none. */
export async function findEvent(
  call: Call,
  token: string,
  name: string,
): Promise<{ eventId: string; complete: boolean } | undefined> {
  const events = await allPages(call, token, '/v1/events', 'events');
  const called = (wanted: string) => {
    const found = events.find((event) => event['name'] === wanted)?.['eventId'];
    return typeof found === 'string' ? found : undefined;
  };
  const [complete, unfinished] = [called(name), called(unfinishedName(name))];
  // One that an older version left half-made has the name of a complete one.
  if (complete !== undefined) {
    const staged = await listStaged(call, token, complete);
    return { eventId: complete, complete: staged.length === DEMO_ENTRIES.length };
  }
  return unfinished === undefined ? undefined : { eventId: unfinished, complete: false };
}

/** Those of the demo's entries that an event has, each with what the gate says of it. */
export async function listStaged(call: Call, token: string, eventId: string): Promise<StagedEntry[]> {
  const rows = await allPages(call, token, `/v1/events/${eventId}/entries`, 'entries');
  return DEMO_ENTRIES.flatMap((entry) => {
    const row = rows.find((one) => one['carNumber'] === entry.number && one['runGroup'] === entry.group);
    if (row === undefined) return [];
    const { status } = row['clearance'] as { status: ClearanceStatus };
    return [{ entry, entryId: String(row['entryId']), status }];
  });
}
