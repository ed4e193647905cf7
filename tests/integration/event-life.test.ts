import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { GOES_WITH_EVENT } from '../../src/features/set-up/life/store.ts';
import { startTestApp, TEST_NOW, type TestApp } from '../support/app.ts';
import { accept, claim, createTestEntry, createTestEvent, submit } from '../support/event.ts';

let t: TestApp;
beforeAll(async () => {
  t = await startTestApp();
});
afterAll(() => t.close());
afterEach(() => t.clock.set(TEST_NOW));

const organizer = () => t.api('organizer');
const ON_THE_DAY = '2026-06-13T08:00:00.000Z';

describe('a cancelled event', () => {
  test('never says go: at the gate, on the signed list, and to whoever declares or takes a car', async () => {
    const event = await createTestEvent(t);
    const entry = await createTestEntry(t, event);
    await accept(t, event, entry);
    const waiting = await createTestEntry(t, event);
    await submit(t, waiting);
    t.clock.set(ON_THE_DAY);
    const gate = `/v1/events/${event.eventId}/gate/${entry.carNumber}`;
    expect((await t.api('marshal').get(gate)).body.admit).toBe(true);
    const cancelled = await organizer().post(`/v1/events/${event.eventId}/cancel`).send({ reason: 'Ice on the track' });
    expect(cancelled.status).toBe(200);
    expect(cancelled.body).toMatchObject({ declarations: 'closed', cancelled: { reason: 'Ice on the track' } });
    expect((await t.api('marshal').get(gate)).body).toMatchObject({
      admit: false,
      status: 'cancelled',
      reason: 'The event was cancelled: Ice on the track.',
    });
    const list = await t.api('marshal').get(`/v1/events/${event.eventId}/gate`);
    expect(list.body.entries.map(({ status }: { status: string }) => status)).toEqual(['cancelled', 'cancelled']);
    const late = await submit(t, waiting);
    expect([late.status, late.body.currentState ?? late.body.type]).toEqual([409, 'cancelled']);
    const taken = await claim(t, event, waiting.carNumber);
    expect([taken.status, taken.body.currentState]).toEqual([409, 'cancelled']);
    const twice = await organizer().post(`/v1/events/${event.eventId}/cancel`).send({ reason: 'again' });
    expect([twice.status, twice.body.currentState]).toEqual([409, 'cancelled']);
    const history = await organizer().get(`/v1/events/${event.eventId}/history`);
    expect(JSON.stringify(history.body)).toContain('event.cancelled');
  });
});

describe('an event that was made by mistake', () => {
  test('is deleted with all of it before anything was submitted; access that was for it alone ends', async () => {
    const event = await createTestEvent(t);
    const other = await createTestEvent(t);
    const entry = await createTestEntry(t, event);
    const kept = await createTestEntry(t, other);
    await t
      .api(entry.entrant)
      .put(`/v1/entries/${entry.entryId}/declaration`)
      .set('if-match', '"0"')
      .send({ answers: {} });
    await organizer().post(`/v1/entries/${entry.entryId}/holds`).send({ reason: 'leak' });
    await organizer().put(`/v1/events/${event.eventId}/set-up/people`).send({ skipped: true });
    const body = { role: 'marshal', holder: 'Gate tablet', eventIds: [event.eventId] };
    const minted = await organizer().post('/v1/tokens').send(body).expect(201);
    const both = { ...body, holder: 'Both', eventIds: [event.eventId, other.eventId] };
    const shared = await organizer().post('/v1/tokens').send(both).expect(201);
    expect((await organizer().delete(`/v1/events/${event.eventId}`)).status).toBe(204);
    expect((await organizer().get(`/v1/events/${event.eventId}`)).status).toBe(404);
    expect((await organizer().get(`/v1/entries/${entry.entryId}`)).status).toBe(404);
    const asks = (token: string) => t.api({ ...entry.entrant, token }).get(`/v1/events/${other.eventId}`);
    expect((await asks(entry.entrant.token)).status).toBe(401);
    // It must not turn into one that is for no event and works at every one.
    expect((await asks(minted.body.token)).status).toBe(401);
    expect((await asks(shared.body.token)).status).toBe(200);
    expect((await organizer().get(`/v1/entries/${kept.entryId}`)).status).toBe(200);
    const left = await t.deps.db.prisma.deletion.findMany({ where: { subjectId: event.eventId } });
    expect(left).toMatchObject([{ kind: 'event', what: { entries: 1, runGroups: 2, drafts: 1 } }]);
  });

  test('stays once somebody has declared, and so does every row of its history, whoever asks', async () => {
    const event = await createTestEvent(t);
    await submit(t, await createTestEntry(t, event)).then(({ status }) => expect(status).toBe(201));
    const refused = await organizer().delete(`/v1/events/${event.eventId}`);
    expect(refused.status).toBe(409);
    expect(refused.body).toMatchObject({
      uses: { submissions: 1 },
      wayOut: { operation: `POST /v1/events/${event.eventId}/cancel` },
    });
    const { prisma } = t.deps.db;
    await expect(
      prisma.$transaction(async (tx) => {
        await tx.$executeRaw`SELECT set_config('gridworthy.deleted_event', ${event.eventId}, true)`;
        await tx.$executeRaw`DELETE FROM history WHERE event_id = ${event.eventId}::uuid`;
      }),
    ).rejects.toThrow(/append-only/);
  });

  test('cannot be used to remove the history of another', async () => {
    const [empty, used] = [await createTestEvent(t), await createTestEvent(t)];
    await submit(t, await createTestEntry(t, used));
    await expect(
      t.deps.db.prisma.$transaction(async (tx) => {
        await tx.$executeRaw`SELECT set_config('gridworthy.deleted_event', ${empty.eventId}, true)`;
        await tx.$executeRaw`DELETE FROM history WHERE event_id = ${used.eventId}::uuid`;
      }),
    ).rejects.toThrow(/append-only/);
  });

  test('takes every table along that refers to it', async () => {
    const rows = await t.deps.db.prisma.$queryRaw<{ name: string; cascades: boolean }[]>`
      WITH RECURSIVE below AS (
        SELECT 'events'::regclass::oid AS id
        UNION SELECT f.conrelid FROM pg_constraint f JOIN below b ON f.confrelid = b.id WHERE f.contype = 'f'
      )
      SELECT DISTINCT c.relname::text AS name, bool_and(f.confdeltype = 'c') AS cascades
      FROM below b JOIN pg_class c ON c.oid = b.id LEFT JOIN pg_constraint f ON f.conrelid = c.oid AND f.contype = 'f'
        AND f.confrelid IN (SELECT id FROM below)
      WHERE c.relname <> 'events' GROUP BY c.relname`;
    const known = new Set(GOES_WITH_EVENT.map(([table]) => table));
    // They hang on a submission, and an event with one is not deleted.
    const submitted = ['inspections', 'tickets', 'claims', 'sign_offs', 'conditions'];
    const forgotten = rows.filter(({ name, cascades }) => !cascades && !known.has(name) && !submitted.includes(name));
    expect(forgotten.map(({ name }) => name)).toEqual([]);
  });
});

describe('run groups and venues', () => {
  test('go while nobody depends on them, and say who does', async () => {
    const event = await createTestEvent(t);
    const entry = await createTestEntry(t, event);
    const group = (id: string) => organizer().delete(`/v1/events/${event.eventId}/run-groups/${id}`);
    expect((await group(event.advanced)).status).toBe(204);
    const refused = await group(event.novice);
    expect([refused.status, refused.body.uses]).toEqual([409, { entries: 1 }]);
    expect(refused.body.detail).toContain(entry.carNumber);
    expect((await organizer().delete(`/v1/venues/${event.venueId}`)).body.uses).toEqual({ events: 1 });
    const venue = await organizer().post('/v1/venues').send({ name: 'Mistake', timeZone: 'UTC' });
    expect((await organizer().delete(`/v1/venues/${venue.body.venueId}`)).status).toBe(204);
    expect((await organizer().get(`/v1/venues/${venue.body.venueId}`)).status).toBe(404);
  });
});

describe('a copy of an event', () => {
  test('has its settings at the same times of day, over a change of the clock', async () => {
    const event = await createTestEvent(t);
    await createTestEntry(t, event);
    const body = { name: 'In winter', startsOn: '2026-11-14' };
    const copy = await organizer().post(`/v1/events/${event.eventId}/copies`).send(body);
    expect(copy.status).toBe(201);
    // 08:00 and 20:00 at the venue: UTC+2 in June, UTC+1 in November (Europe/Berlin, IANA time zone database).
    expect(copy.body).toMatchObject({
      name: 'In winter',
      startsOn: '2026-11-14',
      endsOn: '2026-11-15',
      declarationsOpenAt: '2026-11-02T07:00:00.000Z',
      declarationsCloseAt: '2026-11-13T19:00:00.000Z',
      zeroTwins: 'allow',
    });
    const groups = async (eventId: string) =>
      (await organizer().get(`/v1/events/${eventId}/run-groups`)).body.runGroups as Record<string, unknown>[];
    const [before, after] = [await groups(event.eventId), await groups(copy.body.eventId)];
    expect(after.map((group) => group['firstSessionAt'])).toEqual([
      '2026-11-14T08:00:00.000Z',
      '2026-11-14T08:30:00.000Z',
    ]);
    for (const name of ['name', 'parameters', 'overlay', 'ruleSetId', 'ruleSetVersion', 'rulesHash']) {
      expect(after.map((group) => group[name])).toEqual(before.map((group) => group[name]));
    }
    expect((await organizer().get(`/v1/events/${copy.body.eventId}/entries`)).body.entries).toEqual([]);
  });

  test('takes the newest version where the old one was retired', async () => {
    const event = await createTestEvent(t);
    const path = `/v1/rule-sets/${event.ruleSetId}`;
    const draft = await organizer().get(path);
    const document = { ...draft.body.document, description: 'next year' };
    const saved = await organizer()
      .put(path)
      .set('if-match', String(draft.headers['etag']))
      .send({ name: 'Next', document });
    await organizer().post(`${path}/publish`).set('if-match', String(saved.headers['etag'])).send({ changelog: 'new' });
    await organizer().post(`${path}/versions/1/retire`).send({ reason: 'old' }).expect(200);
    const body = { name: 'Next year', startsOn: '2027-06-12' };
    const copy = await organizer().post(`/v1/events/${event.eventId}/copies`).send(body).expect(201);
    const { body: groups } = await organizer().get(`/v1/events/${copy.body.eventId}/run-groups`);
    expect(groups.runGroups.map((group: { ruleSetVersion: number }) => group.ruleSetVersion)).toEqual([2, 2]);
  });
});
