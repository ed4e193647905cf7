import { afterAll, beforeAll, beforeEach, describe, expect, onTestFinished, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';
import { importJob } from '../../src/features/entries/import/import.job.ts';
import { removeOldImports } from '../../src/features/entries/import/import-task-store.ts';
import { Prisma } from '../../src/platform/prisma-client/client.ts';
import { JOB_CONTEXT } from '../support/jobs.ts';
import { createTestEntry, createTestEvent, submit, type TestEntry, type TestEvent } from '../support/event.ts';

const HEAD = 'carNumber,runGroup,entrantName,vehicle.description,vehicle.massKg';

let t: TestApp;
let event: TestEvent;

beforeAll(async () => {
  t = await startTestApp();
});
afterAll(() => t.close());
beforeEach(async () => {
  event = await createTestEvent(t);
});

const importCsv = (rows: readonly string[], query = '') =>
  t
    .api('organizer')
    .post(`/v1/events/${event.eventId}/entries/import${query}`)
    .set('content-type', 'text/csv')
    .send([HEAD, ...rows].join('\n'));
const hold = (entry: TestEntry) =>
  t.api('chief').post(`/v1/entries/${entry.entryId}/holds`).send({ reason: 'Oil on the track' });
// Beyond the numbers that entries of tests get by themselves, however many files a worker ran before.
const numbered = (count: number, from = 8000) => Array.from({ length: count }, (_, i) => String(from + i));

/** Makes a statement on a table take long, for one event: the import stands still between its statements. */
async function stall(table: string, seconds: number): Promise<void> {
  await t.deps.db.pool.query(`
    CREATE FUNCTION stall_for_test() RETURNS trigger LANGUAGE plpgsql AS $$
      BEGIN PERFORM pg_sleep(${seconds}); RETURN NULL; END $$;
    CREATE TRIGGER stall_for_test AFTER INSERT ON ${table} FOR EACH STATEMENT EXECUTE FUNCTION stall_for_test()`);
  onTestFinished(async () => {
    await t.deps.db.pool.query('DROP FUNCTION stall_for_test CASCADE');
  });
}

describe('an import', () => {
  test('that stands still between its statements keeps nobody waiting who does something else', async () => {
    const others = [await createTestEntry(t, event), await createTestEntry(t, event)];
    await submit(t, others[1] as TestEntry);
    await stall('vehicles', 3);
    let ended = false;
    const running = importCsv(numbered(30).map((number) => `${number},Novice,A,Coupé,`)).then((answer) => {
      ended = true;
      return answer;
    });
    await expect.poll(sleeping, { timeout: 10_000, interval: 20 }).toBeGreaterThan(0);
    const held = await hold(others[0] as TestEntry);
    const claimed = await t.api('inspector').post(`/v1/events/${event.eventId}/line/claims`).send({});
    expect([held.status, claimed.status]).toEqual([201, 201]);
    expect(ended).toBe(false);
    expect((await running).body).toMatchObject({ created: 30, rejected: 0 });
  });

  test('that is tried takes no lock that anybody waits for, and writes nothing', async () => {
    const entry = await createTestEntry(t, event, { carNumber: '8000' });
    const locker = await t.deps.db.pool.connect();
    onTestFinished(() => locker.release());
    await locker.query('BEGIN');
    await locker.query('SELECT 1 FROM clearances WHERE entry_id = $1 FOR UPDATE', [entry.entryId]);
    await locker.query(`SELECT pg_advisory_xact_lock(hashtextextended($1::text || '/' || look_key('8300'), 0))`, [
      event.eventId,
    ]);
    const tried = await importCsv(['8000,Novice,Another,Club coupé,1100', '8300,Novice,B,Saloon,'], '?dryRun=true');
    await locker.query('ROLLBACK');
    expect(tried.body).toMatchObject({ dryRun: true, updated: 1, created: 1 });
    const row = await t.deps.db.prisma.entry.findUniqueOrThrow({ where: { id: entry.entryId } });
    expect(row.rev).toBe(1);
  });

  test('of changed rows, holds and others in the opposite order never end in a deadlock', async () => {
    const numbers = numbered(30);
    const rows = (mass: number) => numbers.map((number) => `${number},Novice,A,Coupé,${mass}`);
    expect((await importCsv(rows(1000))).status).toBe(200);
    const found = await t.deps.db.prisma.entry.findMany({ where: { eventId: event.eventId }, orderBy: { id: 'desc' } });
    const holds = found.map(({ id, carNumber }) => hold({ entryId: id, carNumber } as TestEntry));
    const answers = await Promise.all([
      importCsv(rows(1100)),
      importCsv(rows(1200).toReversed()),
      importCsv(rows(1300).toReversed()),
      ...holds,
    ]);
    const imports = answers.slice(0, 3).map(({ status }) => status);
    expect(imports.every((status) => status === 200 || status === 409)).toBe(true);
    expect(imports).toContain(200);
    expect(new Set(answers.slice(3).map(({ status }) => status))).toEqual(new Set([201]));
    const actions = await t.deps.db.prisma.history.groupBy({
      by: ['action'],
      where: { eventId: event.eventId },
      _count: true,
    });
    expect(actions.find(({ action }) => action === 'entry.updated')?._count).toBeGreaterThanOrEqual(30);
  });

  test('plans anew what changed between plan and write, and loses neither', async () => {
    const entry = await createTestEntry(t, event, { carNumber: '42', vehicle: { description: 'Coupé' } });
    const locker = await t.deps.db.pool.connect();
    onTestFinished(() => locker.release());
    await locker.query('BEGIN');
    await locker.query(`SELECT pg_advisory_xact_lock(hashtextextended($1::text || '/' || look_key('43'), 0))`, [
      event.eventId,
    ]);
    // `then` sends it.
    const imported = importCsv(['42,Novice,From the file,Coupé,', '43,Novice,B,Saloon,']).then((answer) => answer);
    await expect.poll(waitingForNumbers, { timeout: 10_000, interval: 20 }).toBeGreaterThan(0);
    const people = [{ name: 'Tor Brekke', role: 'driver' }];
    const { headers } = await t.api('organizer').get(`/v1/entries/${entry.entryId}`).expect(200);
    const change = t
      .api('organizer')
      .patch(`/v1/entries/${entry.entryId}`)
      .set('if-match', headers['etag'] ?? '');
    await change.send({ people }).expect(200);
    await locker.query('ROLLBACK');
    expect((await imported).body).toMatchObject({ updated: 1, created: 1 });
    const shown = await t.api('organizer').get(`/v1/entries/${entry.entryId}`);
    expect(shown.body).toMatchObject({ entrant: { name: 'From the file' }, people });
  });

  test('names each number that would be two cars of the event', async () => {
    await createTestEntry(t, event, { carNumber: '42', vehicle: { description: 'Coupé' } });
    const report = await importCsv(
      ['42,Advanced,A,Saloon,', '43,Novice,B,Estate,900', '43,Advanced,C,Estate,950', '44,Novice,D,Buggy,'],
      '?dryRun=true&partial=true',
    );
    expect(report.body.numbersOfTwoCars).toEqual([
      { carNumber: '42', rows: [2] },
      { carNumber: '43', rows: [4] },
    ]);
  });
});

const count = async (waitEvent: string): Promise<number> => {
  const { rows } = await t.deps.db.pool.query(
    'SELECT pid FROM pg_stat_activity WHERE datname = current_database() AND wait_event = $1',
    [waitEvent],
  );
  return rows.length;
};
const sleeping = () => count('PgSleep');
const waitingForNumbers = () => count('advisory');

describe('an import of more than 500 rows', () => {
  const rows = (mass: number, count = 520) => numbered(count, 1000).map((number) => `${number},Novice,A,Coupé,${mass}`);
  const order = async (lines: readonly string[], query = ''): Promise<string> => {
    const answer = await importCsv(lines, query);
    expect(answer.status).toBe(202);
    expect(answer.body).toMatchObject({ eventId: event.eventId, state: 'waiting', done: 0, total: lines.length });
    return answer.body.importId;
  };
  const run = (taskId: string, attempt = 1) => importJob.handle(t.deps, { taskId }, { ...JOB_CONTEXT, attempt });
  const read = async (importId: string) => (await t.api('organizer').get(`/v1/imports/${importId}`)).body;
  const kept = (taskId: string) =>
    t.deps.db.prisma.importRow.count({ where: { taskId, data: { not: Prisma.DbNull } } });

  test('is done in parts: one that breaks off goes on where it was, and nothing is written twice', async () => {
    const importId = await order(rows(1000));
    await t.deps.db.pool.query(`
      CREATE FUNCTION break_off_for_test() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RAISE 'broken off'; END $$;
      CREATE TRIGGER break_off_for_test BEFORE INSERT ON entries FOR EACH ROW WHEN (NEW.car_number = '1250')
        EXECUTE FUNCTION break_off_for_test()`);
    await expect(run(importId)).rejects.toThrow('broken off');
    await t.deps.db.pool.query('DROP FUNCTION break_off_for_test CASCADE');
    // The parts before, and of the part with the bad row the rows before it.
    const broken = await read(importId);
    expect(broken).toMatchObject({ state: 'running', done: 250, total: 520, created: 250 });
    expect(await kept(importId)).toBe(270);

    await Promise.all([run(importId), run(importId)]);
    const done = await read(importId);
    expect(done).toMatchObject({ state: 'done', done: 520, total: 520, created: 520, updated: 0, unchanged: 0 });
    expect(done.rows.map(({ row }: { row: number }) => row)).toEqual(numbered(520, 2).map(Number));
    expect(await kept(importId)).toBe(0);
    const { eventId } = event;
    expect(await t.deps.db.prisma.entry.count({ where: { eventId } })).toBe(520);
    expect(await t.deps.db.prisma.history.count({ where: { eventId, action: 'entry.created' } })).toBe(520);

    const again = await order(rows(1000));
    await run(again);
    expect(await read(again)).toMatchObject({ state: 'done', created: 0, unchanged: 520 });
    expect(await t.deps.db.prisma.history.count({ where: { eventId, entryId: { not: null } } })).toBe(520);
  }, 120_000);

  test('with a bad row is refused as a whole, and says which', async () => {
    const answer = await importCsv([...rows(1000), '77,Nowhere,B,Coupé,']);
    expect([answer.status, answer.body.code, answer.body.rejected]).toEqual([422, 'import-not-acceptable', 1]);
    expect(await t.deps.db.prisma.task.count({ where: { subjectId: event.eventId } })).toBe(0);
  });

  test('keeps nothing of a person who is erased before his row is written, and does not bring him back', async () => {
    const entry = await createTestEntry(t, event, { carNumber: '1000' });
    const importId = await order(['1000,Novice,Somebody Else,Coupé,1100', '1001,Novice,B,Coupé,'], '?partial=true');
    await t.api('organizer').post(`/v1/entries/${entry.entryId}/withdraw`).send({ reason: 'sold' });
    const erased = await t
      .api('organizer')
      .post(`/v1/entries/${entry.entryId}/erase`)
      .send({ reason: 'asked for', force: true });
    expect(erased.status).toBe(200);
    expect(await kept(importId)).toBe(1);
    await run(importId);
    const { rows: told } = await read(importId);
    expect(told).toMatchObject([
      { row: 2, outcome: 'rejected', errors: [{ code: 'erased' }] },
      { row: 3, outcome: 'created' },
    ]);
    const stored = await t.deps.db.prisma.entry.findUniqueOrThrow({ where: { id: entry.entryId } });
    expect(stored.entrant).toEqual({ name: 'erased' });
  });

  test('that cannot be finished says so, and forgets what its rows said', async () => {
    const importId = await order(['1,Novice,A,Coupé,'], '?partial=true');
    await t.deps.db.prisma.event.update({ where: { id: event.eventId }, data: { name: 'x' } });
    await t.deps.db.pool.query(`UPDATE import_rows SET data = '{"cells": 1}' WHERE task_id = $1`, [importId]);
    await expect(run(importId, importJob.attempts)).rejects.toThrow(/./);
    expect(await read(importId)).toMatchObject({
      state: 'failed',
      error: expect.stringContaining('again'),
      rows: [{ row: 2, outcome: 'rejected', errors: [{ code: 'not-written' }] }],
    });
    expect(await kept(importId)).toBe(0);
  });

  test('is listed for its event, four wait at most, and all are forgotten after a week', async () => {
    const ids = [];
    for (let i = 0; i < 4; i += 1) ids.unshift(await order([`${i},Novice,A,Coupé,`], '?partial=true'));
    const refused = await importCsv(['9,Novice,A,Coupé,'], '?partial=true');
    expect([refused.status, refused.body.code]).toEqual([429, 'too-much-at-once']);
    const list = () => t.api('organizer').get(`/v1/events/${event.eventId}/imports`);
    expect((await list()).body.imports.map((one: { importId: string }) => one.importId)).toEqual(ids);
    await t.deps.db.pool.query(`UPDATE tasks SET created_at = created_at - interval '7 days 1 minute' WHERE id = $1`, [
      ids[0],
    ]);
    expect(await removeOldImports(t.deps)).toBe(1);
    expect((await list()).body.imports).toHaveLength(3);
    expect(await t.deps.db.prisma.importRow.count({ where: { taskId: ids[0] as string } })).toBe(0);
  });
});
