import pg from 'pg';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';
import { accept, createTestEntry, createTestEvent, submit, type TestEntry, type TestEvent } from '../support/event.ts';

let t: TestApp;
let event: TestEvent;

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t);
});
afterAll(() => t.close());

interface EntryPage {
  entries: { entryId: string; carNumber: string }[];
  next?: string;
  asOf: string;
}
interface EventPage {
  events: { eventId: string; name: string }[];
  asOf: string;
}

async function entriesOf(query: Record<string, string | number>, of = event): Promise<EntryPage> {
  const answer = await t.api('organizer').get(`/v1/events/${of.eventId}/entries`).query(query);
  expect(answer.status, JSON.stringify(answer.body)).toBe(200);
  return answer.body as EntryPage;
}
const idsOf = async (query: Record<string, string | number>) =>
  (await entriesOf(query)).entries.map(({ entryId }) => entryId);

async function eventsOf(query: Record<string, string>): Promise<EventPage> {
  const answer = await t.api('marshal').get('/v1/events').query(query).expect(200);
  return answer.body as EventPage;
}

const hold = (entry: TestEntry, about: string) =>
  t
    .api('chief')
    .post(`/v1/entries/${entry.entryId}/holds`)
    .send({ reason: 'Seen at the paddock', about, kind: 'other' })
    .expect(201);

describe('entries that were changed since an earlier answer', () => {
  test('are those, whatever was written of them, and nobody else', async () => {
    const [quiet, declared, held, people] = [
      await createTestEntry(t, event),
      await createTestEntry(t, event),
      await createTestEntry(t, event),
      await createTestEntry(t, event),
    ];
    expect(quiet).toBeDefined();
    // What is written now is written later than this by more than the slack.
    await new Promise((resolve) => setTimeout(resolve, 30));
    const { asOf } = await entriesOf({});
    await submit(t, declared);
    await hold(held, 'car');
    const read = await t.api('organizer').get(`/v1/entries/${people.entryId}`);
    const changed = await t
      .api('organizer')
      .patch(`/v1/entries/${people.entryId}`)
      .set('if-match', read.headers['etag'] ?? '')
      .send({ people: [{ name: 'Tor Brekke', role: 'crew', personId: 'ARC-77' }] });
    expect(changed.status).toBe(200);
    expect(await idsOf({ changedSince: asOf })).toEqual([declared.entryId, held.entryId, people.entryId]);
    expect(await idsOf({ changedSince: asOf, personId: 'ARC-77' })).toEqual([people.entryId]);
    expect(await idsOf({ changedSince: '2999-01-01T00:00:00Z' })).toEqual([]);
  });

  test('have among them what was written before and committed after', async () => {
    const entry = await createTestEntry(t, event);
    const client = new pg.Client({ connectionString: t.databaseUrl });
    await client.connect();
    try {
      await client.query('BEGIN');
      await client.query('UPDATE clearances SET updated_at = now() WHERE entry_id = $1', [entry.entryId]);
      await new Promise((resolve) => setTimeout(resolve, 200));
      // Whoever asks now does not see it, and must see it the next time.
      const { asOf } = await entriesOf({});
      await client.query('COMMIT');
      expect(await idsOf({ changedSince: asOf })).toContain(entry.entryId);
    } finally {
      await client.end();
    }
  });
});

test('entries are found by what the gate says of them now, in pages of the size that was asked for', async () => {
  const own = await createTestEvent(t);
  const barred: string[] = [];
  for (let i = 0; i < 7; i += 1) {
    const entry = await createTestEntry(t, own);
    if (i % 2 === 0) barred.push(entry.entryId);
    else await accept(t, own, entry);
  }
  t.clock.set('2026-06-13T08:00:00.000Z');
  const seen: string[] = [];
  const sizes: number[] = [];
  let cursor: string | undefined;
  do {
    const query = { status: 'no-declaration', limit: 3, ...(cursor === undefined ? {} : { cursor }) };
    const page = await entriesOf(query, own);
    sizes.push(page.entries.length);
    seen.push(...page.entries.map(({ entryId }) => entryId));
    cursor = page.next;
  } while (cursor !== undefined);
  expect(sizes).toEqual([3, 1]);
  expect(seen).toEqual(barred);
  expect((await entriesOf({ status: 'clear' }, own)).entries).toHaveLength(3);
  expect((await entriesOf({ status: 'held' }, own)).entries).toEqual([]);
  const wrong = await t.api('organizer').get(`/v1/events/${own.eventId}/entries?status=good`);
  expect(wrong.status).toBe(400);
});

test('events are found by days, venue and when they were changed', async () => {
  const { body: view } = await t.api('organizer').get(`/v1/events/${event.eventId}`).expect(200);
  const other = await createTestEvent(t);
  const names = async (query: Record<string, string>) => (await eventsOf(query)).events.map(({ eventId }) => eventId);
  expect(await names({ venueId: view.venueId })).toEqual([event.eventId]);
  expect(await names({ from: view.endsOn, to: view.endsOn, venueId: view.venueId })).toEqual([event.eventId]);
  expect(await names({ from: '2199-01-01' })).toEqual([]);
  expect(await names({ to: '1999-01-01' })).toEqual([]);

  await new Promise((resolve) => setTimeout(resolve, 30));
  const { asOf } = await eventsOf({});
  expect(await names({ changedSince: asOf })).toEqual([]);
  const read = await t.api('organizer').get(`/v1/events/${other.eventId}`);
  const change = t
    .api('organizer')
    .patch(`/v1/events/${other.eventId}`)
    .set('if-match', read.headers['etag'] ?? '');
  await change.send({ name: 'Renamed' }).expect(200);
  expect(await names({ changedSince: asOf })).toEqual([other.eventId]);
});
