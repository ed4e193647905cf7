import { mkdtemp, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { readMigrations } from '../../prisma/files.ts';
import { type Restored, restoreBackup } from '../../src/backup/restore-backup.ts';
import { createLogger } from '../../src/platform/logger.ts';
import { openPhotoFolder } from '../../src/platform/photos/photo-store.ts';
import { startTestApp, type TestApp, type TestToken } from '../support/app.ts';
import { createTestDatabase } from '../support/postgres.ts';
import { sql } from '../support/records.ts';

/** What 0.2.0 answered of its demo, as tests/fixtures/upgrade/README.md has it. */
interface Then {
  now: string;
  token: string;
  events: {
    eventId: string;
    name: string;
    startsOn: string;
    entries: {
      entryId: string;
      carNumber: string;
      runGroup: string;
      entrant: object;
      vehicle: object;
      status: string;
    }[];
    gate: Record<string, { admit: boolean; status: string }>;
    tickets: { entryId: string; state: string }[];
    audit: object;
  }[];
}

const FOLDER = join(import.meta.dirname, '../fixtures/upgrade');
/** Of 0.2.0: every migration up to this one was there. */
const LAST_OF_THEN = '20261125180000_webhooks';

let then: Then;
let organizer: TestToken;
let folder: string;
let restored: Restored;
let t: TestApp;

beforeAll(async () => {
  then = JSON.parse(await readFile(join(FOLDER, '0.2.0.json'), 'utf8')) as Then;
  organizer = { token: then.token, tokenId: '', role: 'organizer', holder: '' };
  folder = await mkdtemp(join(tmpdir(), 'gridworthy-upgrade-'));
  const database = await createTestDatabase({ empty: true });
  restored = await restoreBackup({
    databaseUrl: database.url,
    photos: openPhotoFolder(folder),
    path: join(FOLDER, '0.2.0.backup'),
    log: createLogger({ level: 'silent' }),
  });
  t = await startTestApp({ now: then.now, database });
  // Leases end by the database's clock, which goes on: the claims of then are as live as they were.
  await sql(t, `UPDATE claims SET expires_at = now() + interval '1 hour' WHERE ended_at IS NULL`);
});
afterAll(async () => {
  await t.close();
  await rm(folder, { recursive: true, force: true });
});

const read = async (path: string) => {
  const answer = await t.api(organizer).get(path);
  expect(answer.status, path).toBe(200);
  return answer.body;
};

test('a database of 0.2.0 gets every later migration, and its history is intact', async () => {
  const names = (await readMigrations()).map(({ name }) => name);
  expect(names).toContain(LAST_OF_THEN);
  expect(restored.migrated).toEqual(names.slice(names.indexOf(LAST_OF_THEN) + 1));
  expect(restored.migrated.length).toBeGreaterThan(0);
  expect(restored.audits.every(({ intact }) => intact)).toBe(true);
  for (const { eventId, audit } of then.events)
    expect(await read(`/v1/events/${eventId}/audit`)).toMatchObject({ ...audit, faults: [] });
});

test('every car is entered as it was, under the token of then', async () => {
  for (const { eventId, name, startsOn, entries } of then.events) {
    expect(await read(`/v1/events/${eventId}`)).toMatchObject({ name, startsOn });
    const { entries: now } = await read(`/v1/events/${eventId}/entries?limit=200`);
    const said = entries.map(({ entryId, carNumber, runGroup, entrant, vehicle }) => ({
      entryId,
      carNumber,
      runGroup,
      entrant: expect.objectContaining(entrant) as unknown,
      vehicle: expect.objectContaining(vehicle) as unknown,
    }));
    expect(now).toMatchObject(said);
  }
});

test('the gate says of every car what it said, and the line has whom it had', async () => {
  for (const { eventId, gate, tickets } of then.events) {
    expect(Object.keys(gate).length).toBeGreaterThan(40);
    for (const [carNumber, said] of Object.entries(gate))
      expect(await read(`/v1/events/${eventId}/gate/${carNumber}`), carNumber).toMatchObject(said);
    const line = await read(`/v1/events/${eventId}/line`);
    expect(line.tickets).toMatchObject(tickets);
  }
});

test('work goes on: a car that was in the line can be claimed, held, and is stopped at the gate', async () => {
  const [event] = then.events;
  if (event === undefined) throw new Error('there was no event then');
  const { eventId, entries, tickets } = event;
  const waiting = tickets.find(({ state }) => state === 'waiting');
  const car = entries.find(({ entryId }) => entryId === waiting?.entryId);
  const claimed = await t
    .api('inspector')
    .post(`/v1/events/${eventId}/line/claims`)
    .send({ carNumber: car?.carNumber });
  expect(claimed.status, JSON.stringify(claimed.body)).toBe(201);
  const { body: entry } = await t.api(organizer).get(`/v1/entries/${car?.entryId}`).expect(200);
  expect(entry.clearance.admit).toBe(false);
  const held = await t
    .api(organizer)
    .post(`/v1/entries/${car?.entryId}/holds`)
    .send({ reason: 'Looked at again', about: 'entry', kind: 'other' });
  expect(held.status, JSON.stringify(held.body)).toBe(201);
  expect(await read(`/v1/events/${eventId}/gate/${car?.carNumber}`)).toMatchObject({ admit: false, status: 'held' });
});
