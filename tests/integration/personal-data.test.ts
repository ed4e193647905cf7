import { v7 as uuidV7 } from 'uuid';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { auditEvent } from '../../src/features/history/verify.ts';
import { eraseOverdue } from '../../src/features/personal-data/erase.ts';
import { startTestApp, TEST_NOW, type TestApp, type TestToken } from '../support/app.ts';
import {
  accept,
  createTestEntry,
  createTestEvent,
  gate,
  GOOD_ANSWERS,
  submit,
  type TestEntry,
  type TestEvent,
} from '../support/event.ts';
import { makePhoto, sendPhoto } from '../support/photos.ts';
import { actionsOf, factsOf, historyOf, sql } from '../support/records.ts';
import { dumpTables, tablesWith } from '../support/table-dump.ts';

// Invented, and found nowhere else in the database.
const NAME = 'Quenby Østerlöw-Zimt';
const EMAIL = 'quenby.zimt@example.org';
const PHONE = '+49 0000 7654321';
const WORDS = [NAME, EMAIL, PHONE, 'quenby', 'zimt'];
const AFTER = '2026-06-20T08:00:00.000Z';

let t: TestApp;
let event: TestEvent;
let entry: TestEntry;
let person: TestToken;

beforeAll(async () => {
  t = await startTestApp({ own: true });
});
afterAll(() => t.close());

/** A car of the person, declared, photographed, accepted and held once. */
async function lived(): Promise<void> {
  entry = await createTestEntry(t, event, {
    entrant: { name: NAME, email: EMAIL, phone: PHONE },
    people: [{ name: NAME.toUpperCase(), role: 'driver' }],
  });
  const minted = await t
    .api('organizer')
    .post('/v1/tokens')
    .send({ role: 'entrant', holder: NAME, entryId: entry.entryId });
  person = { tokenId: minted.body.tokenId, token: minted.body.token, role: 'entrant', holder: NAME };
  const own = { ...entry, entrant: person };
  await t
    .api(person)
    .put(`/v1/entries/${entry.entryId}/declaration`)
    .set('if-match', '*')
    .send({ answers: GOOD_ANSWERS });
  expect((await sendPhoto(t, person, entry.entryId, await makePhoto(), { position: 'FL.in' })).status).toBe(201);
  expect((await submit(t, own)).status).toBe(201);
  expect((await accept(t, event, own)).status).toBe(201);
  const hold = await t.api('inspector').post(`/v1/entries/${entry.entryId}/holds`).send({ reason: 'oil drips' });
  expect(hold.status).toBe(201);
  await gate(t, event, entry.carNumber);
  const mail = { kind: 'link', dedupeKey: `link/${entry.entryId}/x`, language: 'de', address: EMAIL, subject: NAME };
  const [text, html] = [`https://tech.example.org/garage#${person.token}`, `<p>${NAME}</p>`];
  const { db, clock } = t.deps;
  const about = { eventId: event.eventId, entryId: entry.entryId };
  const rest = { id: uuidV7(), state: 'waiting', stopKey: entry.entryId, createdAt: clock.now() };
  await db.prisma.mail.create({ data: { ...mail, text, html, ...about, ...rest } });
  await db.prisma.mailStop.create({ data: { entryId: entry.entryId, stoppedAt: '2026-06-12T08:00:00.000Z' } });
}

beforeEach(async () => {
  t.clock.set(TEST_NOW);
  event = await createTestEvent(t);
  await lived();
});
// The next test looks for the name of its own person.
afterEach(async () => {
  t.clock.set('2046-01-01T00:00:00.000Z');
  await eraseOverdue(t.deps);
});

const erase = (body: object = { reason: 'asked for' }, as: 'organizer' | 'chief' = 'organizer') =>
  t.api(as).post(`/v1/entries/${entry.entryId}/erase`).send(body);
const intact = async () => (await auditEvent(t.deps.db.prisma, event.eventId)).intact;

describe('erasing', () => {
  test('leaves the name, the address and the number in no column of any table', async () => {
    expect(tablesWith(await dumpTables(t), WORDS)).toEqual(
      expect.arrayContaining(['entries', 'history', 'inspections', 'photos', 'tokens']),
    );
    t.clock.set(AFTER);
    const answer = await erase();
    expect(answer.status).toBe(200);
    expect(answer.body).toMatchObject({ entryId: entry.entryId, erasedAt: AFTER, photosRemoved: 1, mentions: [] });
    expect(tablesWith(await dumpTables(t), WORDS)).toEqual([]);
  });

  test('keeps what was inspected, and a history that is intact', async () => {
    const counts = async () =>
      sql<Record<string, string>>(
        t,
        `SELECT (SELECT count(*) FROM inspections WHERE entry_id = $1) AS inspections,
                (SELECT count(*) FROM sign_offs WHERE entry_id = $1) AS sign_offs,
                (SELECT jsonb_agg(findings ORDER BY revision)::text FROM inspections WHERE entry_id = $1) AS findings,
                (SELECT string_agg(signed_name, ',') FROM sign_offs WHERE entry_id = $1) AS signed`,
        [entry.entryId],
      );
    const before = await counts();
    const facts = await factsOf(t, entry.entryId);
    const hashes = (await historyOf(t, entry.entryId)).map((row) => row.hash);
    expect(await intact()).toBe(true);
    t.clock.set(AFTER);
    await erase().expect(200);
    expect(await counts()).toEqual(before);
    expect(before[0]?.['signed']).toContain('Test inspector');
    expect(await factsOf(t, entry.entryId)).toEqual(facts);
    expect((await historyOf(t, entry.entryId)).map((row) => row.hash).slice(0, -1)).toEqual(hashes);
    expect(await actionsOf(t, entry.entryId)).toContain('entry.erased');
    expect(await intact()).toBe(true);
    const read = await t.api('chief').get(`/v1/entries/${entry.entryId}/history`);
    expect(read.body.intact).toBe(true);
    expect(read.body.history.at(-1)).toMatchObject({
      action: 'entry.erased',
      data: { reason: 'asked for', photos: 1 },
    });
  });

  test('stops the tokens of the entry, removes its photos, and lets no new entrant token be minted', async () => {
    const photos = await t.api('chief').get(`/v1/entries/${entry.entryId}/photos`);
    t.clock.set(AFTER);
    await erase().expect(200);
    for (const token of [person, entry.entrant]) {
      expect((await t.api(token).get(`/v1/entries/${entry.entryId}`)).status).toBe(401);
    }
    expect((await t.api('chief').get(`/v1/photos/${photos.body.photos[0].photoId}`)).status).toBe(404);
    const minted = await t
      .api('organizer')
      .post('/v1/tokens')
      .send({ role: 'entrant', holder: NAME, entryId: entry.entryId });
    expect(minted.body).toMatchObject({
      code: 'not-acceptable',
      errors: [{ pointer: '/entryId', code: 'erased-entry' }],
    });
  });

  test('waits for the end of the event at the venue, unless the entry is withdrawn and it is forced', async () => {
    t.clock.set('2026-06-14T21:59:59.000Z');
    for (const body of [{ reason: 'x' }, { reason: 'x', force: true }]) {
      const refused = await erase(body);
      expect(refused.status).toBe(409);
      expect(refused.body).toMatchObject({ code: 'event-not-over', currentState: 'held' });
    }
    // midnight in Berlin
    t.clock.set('2026-06-14T22:00:00.000Z');
    await erase().expect(200);
  });

  test('is possible at once for a withdrawn entry, when forced', async () => {
    await t.api('organizer').post(`/v1/entries/${entry.entryId}/withdraw`).send({}).expect(200);
    expect((await erase()).status).toBe(409);
    await erase({ reason: 'asked for', force: true }).expect(200);
    expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: false, status: 'withdrawn' });
    expect(await intact()).toBe(true);
  });

  test('twice is once; a name that was written again since goes too', async () => {
    t.clock.set(AFTER);
    const first = await erase();
    t.clock.set('2026-06-21T08:00:00.000Z');
    const second = await erase();
    expect(second.body).toMatchObject({ erasedAt: first.body.erasedAt, photosRemoved: 0 });
    expect((await actionsOf(t, entry.entryId)).filter((action) => action === 'entry.erased')).toHaveLength(1);
    const { headers } = await t.api('organizer').get(`/v1/entries/${entry.entryId}`);
    await t
      .api('organizer')
      .patch(`/v1/entries/${entry.entryId}`)
      .set('if-match', headers['etag'] ?? '')
      .send({ entrant: { name: NAME, email: EMAIL } })
      .expect(200);
    await erase().expect(200);
    expect(tablesWith(await dumpTables(t), WORDS)).toEqual([]);
    expect(await intact()).toBe(true);
  });

  test('says where somebody wrote the name into free text, and where the same person is entered again', async () => {
    await t
      .api('chief')
      .post(`/v1/entries/${entry.entryId}/holds`)
      .send({ reason: `${NAME} will call back` });
    const other = await createTestEntry(t, event, { entrant: { name: NAME.toLowerCase() } });
    t.clock.set(AFTER);
    const { body } = await erase();
    expect(body.mentions).toEqual([
      { place: 'history', count: 1 },
      { place: 'holds', count: 1 },
    ]);
    expect(body.otherEntries).toContain(other.entryId);
    await sql(t, `UPDATE holds SET reason = 'x'`);
    await t.api('organizer').post(`/v1/entries/${other.entryId}/erase`).send({ reason: 'x' }).expect(200);
    // This history row cannot be changed; later tests look for the name anew.
    await sql(t, 'ALTER TABLE history DISABLE TRIGGER history_immutable');
    await sql(t, `UPDATE history SET data = '{}' WHERE data::text LIKE '%will call back%'`);
    await sql(t, 'ALTER TABLE history ENABLE TRIGGER history_immutable');
    await sql(t, `UPDATE clearances SET facts = facts - 'holds' WHERE facts::text LIKE '%will call back%'`);
    await sql(t, `UPDATE car_clearances SET facts = facts || '{"holds":[]}' WHERE facts::text LIKE '%will call back%'`);
  });

  test('needs a reason, an organizer and an entry', async () => {
    t.clock.set(AFTER);
    expect((await erase({})).body.errors).toMatchObject([{ pointer: '/reason' }]);
    expect((await erase({ reason: 'x', force: 'yes' })).status).toBe(400);
    expect((await erase({ reason: 'x' }, 'chief')).status).toBe(403);
    const unknown = await t
      .api('organizer')
      .post('/v1/entries/019ab8f0-0000-7000-8000-00000000dead/erase')
      .send({ reason: 'x' });
    expect(unknown.status).toBe(404);
    await erase();
  });
});

describe('retention', () => {
  test('is 365 days unless told, can be changed, and has bounds', async () => {
    const url = `/v1/events/${event.eventId}`;
    const read = await t.api('organizer').get(url);
    expect(read.body.retentionDays).toBe(365);
    const patch = (body: object) => t.api('organizer').patch(url).set('if-match', '*').send(body);
    expect((await patch({ retentionDays: 30 })).body.retentionDays).toBe(30);
    expect((await patch({ name: 'Another name' })).body.retentionDays).toBe(30);
    for (const retentionDays of [-1, 3651, 1.5, '30', null]) {
      expect((await patch({ retentionDays })).body.errors).toMatchObject([{ pointer: '/retentionDays' }]);
    }
  });

  test('erases when the last day it keeps is over at the venue, each entry once', async () => {
    await t.api('organizer').patch(`/v1/events/${event.eventId}`).set('if-match', '*').send({ retentionDays: 2 });
    const erasedAt = async () =>
      (await t.deps.db.prisma.entry.findUniqueOrThrow({ where: { id: entry.entryId } })).erasedAt?.toISOString();
    // 14 June is the last day: 15 and 16 are kept, midnight in Berlin begins the 17th.
    t.clock.set('2026-06-16T21:59:59.000Z');
    expect(await eraseOverdue(t.deps)).toBe(0);
    expect(await erasedAt()).toBeUndefined();
    t.clock.set('2026-06-16T22:00:00.000Z');
    expect(await eraseOverdue(t.deps)).toBe(1);
    expect(await erasedAt()).toBe('2026-06-16T22:00:00.000Z');
    expect(await eraseOverdue(t.deps)).toBe(0);
    expect(tablesWith(await dumpTables(t), WORDS)).toEqual([]);
    const row = (await historyOf(t, entry.entryId)).at(-1);
    expect(row).toMatchObject({ action: 'entry.erased', actorRole: 'clock', actorName: 'clock' });
    expect(await intact()).toBe(true);
  });

  test('0 days: the day after', async () => {
    await t.api('organizer').patch(`/v1/events/${event.eventId}`).set('if-match', '*').send({ retentionDays: 0 });
    t.clock.set('2026-06-14T22:00:00.000Z');
    expect(await eraseOverdue(t.deps)).toBe(1);
  });

  test('two workers at once erase once', async () => {
    await t.api('organizer').patch(`/v1/events/${event.eventId}`).set('if-match', '*').send({ retentionDays: 0 });
    t.clock.set(AFTER);
    await Promise.all([eraseOverdue(t.deps), eraseOverdue(t.deps)]);
    expect((await actionsOf(t, entry.entryId)).filter((action) => action === 'entry.erased')).toHaveLength(1);
  });
});

describe('the export', () => {
  const read = (as: TestToken | 'organizer' | 'chief') => t.api(as).get(`/v1/entries/${entry.entryId}/personal-data`);

  test('holds all of the own, names of others nowhere, and no secret', async () => {
    const answer = await read(person);
    expect(answer.status).toBe(200);
    expect(answer.headers['content-disposition']).toBe(`attachment; filename="entry-${entry.carNumber}.json"`);
    const { body } = answer;
    expect(body.entry).toMatchObject({
      carNumber: entry.carNumber,
      entrant: { name: NAME, email: EMAIL, phone: PHONE },
      people: [{ name: NAME.toUpperCase(), role: 'driver' }],
    });
    expect(body.event.erasedFrom).toBe('2027-06-15');
    expect(body.draft.answers).toEqual(GOOD_ANSWERS);
    expect(body.declarations[0].submittedBy).toEqual({ role: 'entrant', name: NAME });
    expect(body.decisions.signOffs).toMatchObject([{ decision: 'accept', stickerNumber: `S${entry.carNumber}` }]);
    expect(body.decisions.holds).toMatchObject([{ reason: 'oil drips', liftedAt: null }]);
    const rows = await historyOf(t, entry.entryId);
    expect(body.history.map((row: { action: string }) => row.action)).toEqual(rows.map((row) => row.action));
    expect(body.photos).toMatchObject([{ item: 'pad.thickness', position: 'FL.in', uploadedBy: { name: NAME } }]);
    expect(body.gateLookups).toMatchObject([{ admit: false, status: 'held' }]);
    expect(body.tokens.map((token: { tokenId: string }) => token.tokenId)).toContain(person.tokenId);
    expect(body.mails).toMatchObject([{ kind: 'link', address: EMAIL, text: expect.stringContaining('/garage#…') }]);
    expect(body.mailsStoppedAt).toBe('2026-06-12T08:00:00.000Z');
    for (const secret of ['Test inspector', 'Test organizer', person.token, 'hash":"\\\\x']) {
      expect(answer.text).not.toContain(secret);
    }
  });

  test('is for the entrant and the organizer', async () => {
    const other = await createTestEntry(t, event);
    expect((await read('organizer')).status).toBe(200);
    expect((await read('chief')).status).toBe(403);
    expect((await read(other.entrant)).status).toBe(404);
  });

  test('of an erased entry has what was inspected and no person', async () => {
    t.clock.set(AFTER);
    await erase().expect(200);
    const { body, text } = await read('organizer');
    expect(body.entry).toMatchObject({ entrant: { name: 'erased' }, people: [], erasedAt: AFTER });
    expect(body.declarations).not.toHaveLength(0);
    expect(body).toMatchObject({ mails: [], mailsStoppedAt: null });
    expect(WORDS.filter((word) => text.toLowerCase().includes(word.toLowerCase()))).toEqual([]);
  });
});
