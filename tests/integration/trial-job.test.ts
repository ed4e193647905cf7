import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { trialJob } from '../../src/features/rules/trials/trial.job.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import { accept, createTestEntry, createTestEvent, type TestEvent } from '../support/event.ts';
import { JOB_CONTEXT, runOrdered } from '../support/jobs.ts';
import { sql } from '../support/records.ts';
import { FIVE_PADS, trialsOf } from '../support/trials.ts';

const UNKNOWN = '019ab8f0-0000-7000-8000-00000000dead';

let t: TestApp;
let event: TestEvent;
const { draft, start, read, tryOut, enter } = trialsOf(() => ({ t, event }));

beforeAll(async () => {
  t = await startTestApp({ own: true });
});
afterAll(() => t.close());
beforeEach(async () => {
  event = await createTestEvent(t);
});

/** Every table with a hash of all its rows, but the two that a trial writes to. */
async function contents(): Promise<Record<string, string>> {
  const tables = await sql<{ name: string }>(
    t,
    `SELECT table_name AS name FROM information_schema.tables
      WHERE table_schema = 'public' AND table_type = 'BASE TABLE' AND table_name NOT IN ('tasks') ORDER BY 1`,
  );
  const hashes: Record<string, string> = {};
  for (const { name } of tables) {
    const rows = await sql<{ hash: string }>(
      t,
      `SELECT count(*) || ' ' || coalesce(md5(string_agg(r::text, '|' ORDER BY r::text)), '') AS hash FROM "${name}" r`,
    );
    hashes[name] = rows[0]?.hash ?? '';
  }
  return hashes;
}

test('the worker writes to the task and to nothing else', async () => {
  await enter(4.5);
  await accept(t, event, await createTestEntry(t, event));
  await draft(FIVE_PADS);
  const answer = await start();
  const before = await contents();
  expect(Object.keys(before).length).toBeGreaterThan(20);
  await runOrdered(t, answer, trialJob);
  expect((await read(answer.body.trialId)).state).toBe('done');
  expect(await contents()).toEqual(before);
});

describe('the job', () => {
  const handle = (trialId: string, attempt = 1) => trialJob.handle(t.deps, { trialId }, { ...JOB_CONTEXT, attempt });

  test('that was lost half way begins anew and overwrites what it had', async () => {
    await enter(4.5);
    await draft(FIVE_PADS);
    const { trialId } = (await start()).body;
    await sql(t, `UPDATE tasks SET state = 'running', done = 400, total = 900, started_at = now() WHERE id = $1`, [
      trialId,
    ]);
    await handle(trialId);
    expect(await read(trialId)).toMatchObject({ state: 'done', done: 1, total: 1 });
  });

  test('that runs twice, or twice at once, ends in one result; about a trial that is over or unknown it does nothing', async () => {
    await enter(4.5);
    await draft(FIVE_PADS);
    const { trialId } = (await start()).body;
    await Promise.all([handle(trialId), handle(trialId)]);
    const done = await read(trialId);
    expect(done.result.totals.judged).toBe(1);
    await enter(4.6);
    await handle(trialId);
    expect(await read(trialId)).toEqual(done);
    await handle(UNKNOWN);
  });

  test('is tried again when the server fails, and says so after the last try', async () => {
    const { trialId } = (await start()).body;
    await sql(t, 'ALTER TABLE inspections RENAME TO out_of_reach');
    await expect(handle(trialId)).rejects.toThrow();
    expect((await read(trialId)).state).toBe('running');
    await expect(handle(trialId, 5)).rejects.toThrow();
    await sql(t, 'ALTER TABLE out_of_reach RENAME TO inspections');
    const failed = await read(trialId);
    expect(failed).toMatchObject({ state: 'failed', finishedAt: expect.any(String) });
    expect(failed.error).toBe('The server failed while it judged. Nothing was changed; start it again.');
    expect(failed.result).toBeUndefined();
    await handle(trialId);
    expect(await read(trialId)).toEqual(failed);
  });

  test('fails at once, with the reason, on rules that this server cannot read', async () => {
    const { trialId } = (await start()).body;
    await sql(t, `UPDATE tasks SET request = jsonb_set(request, '{tried,document}', '{"name": 1}') WHERE id = $1`, [
      trialId,
    ]);
    await handle(trialId);
    const failed = await read(trialId);
    expect(failed.state).toBe('failed');
    expect(failed.error).toMatch(/written for another version of this server/);
  });

  test('says how far it is once in 200 declarations', async () => {
    const entry = await enter(4.5);
    await multiply(entry.entryId, 449);
    await sql(t, 'CREATE TABLE said (done int, state text)');
    await sql(
      t,
      `CREATE FUNCTION note_task() RETURNS trigger LANGUAGE plpgsql AS
       $$ BEGIN INSERT INTO said VALUES (NEW.done, NEW.state); RETURN NEW; END $$`,
    );
    await sql(t, 'CREATE TRIGGER note AFTER UPDATE ON tasks FOR EACH ROW EXECUTE FUNCTION note_task()');
    await draft(FIVE_PADS);
    const done = await tryOut();
    const said = await sql<{ done: number; state: string }>(t, 'SELECT done, state FROM said');
    await sql(t, 'DROP TRIGGER note ON tasks');
    expect(said.map(({ done, state }) => `${state} ${done}`)).toEqual([
      'running 0',
      'running 0',
      'running 200',
      'running 400',
      'done 450',
    ]);
    expect(done.result.totals).toMatchObject({ judged: 450, newlyBarred: 450 });
    expect(done.result.rules[0]).toMatchObject({ newlyNotMet: 450 });
    expect(done.result.rules[0].nearest.notMet).toHaveLength(3);
    expect([done.result.nearest.notMet.length, done.result.truncated]).toEqual([50, { flips: false, nearest: true }]);
  });
});

/** More entries with the same declaration, past the API. */
async function multiply(entryId: string, times: number): Promise<void> {
  await sql(
    t,
    `WITH more AS (
       INSERT INTO entries (id, event_id, run_group_id, vehicle_id, car_number, entrant, people, person_keys, created_by)
       SELECT gen_random_uuid(), event_id, run_group_id, vehicle_id, 'x' || n, entrant, people, person_keys, created_by
       FROM entries, generate_series(1, ${times}) n WHERE id = $1 RETURNING id
     )
     INSERT INTO inspections (id, entry_id, revision, answers, vehicle, context, rule_set_id, rule_set_version,
       resolved_hash, parameters, verdict, findings, submitted_by, submitted_name)
     SELECT gen_random_uuid(), more.id, 1, answers, vehicle, context, rule_set_id, rule_set_version, resolved_hash,
       parameters, verdict, findings, submitted_by, submitted_name
     FROM more, inspections i WHERE i.entry_id = $1`,
    [entryId],
  );
}
