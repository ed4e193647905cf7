import { afterAll, beforeAll, expect, test } from 'vitest';
import type { Deps } from '../../src/deps.ts';
import { startRelay } from '../../src/platform/queue/outbox-relay.ts';
import { createLogger } from '../../src/platform/logger.ts';
import { listUnsealedEvents, sealBatch } from '../../src/records/history/seal.ts';
import { signHeads } from '../../src/records/history/signing.ts';
import { apiClient } from '../../seed/demo/api-client.ts';
import type { Club } from '../bench/writes/club.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import { createTestEntry, createTestEvent, GOOD_ANSWERS } from '../support/event.ts';
import { type HotPath, hotPaths, importPath, playClub } from '../support/hot-paths.ts';
import { GROWING, multiplyEvent } from '../support/multiply.ts';
import { explained, type PlanNode, type RanStatement, stepsOf, watchPlans } from '../support/plans.ts';
import { createTestDatabase } from '../support/postgres.ts';

const CARS = 12;
/** Events beside the one that is looked at. */
const EVENTS = 120;
/** Often enough for a prepared statement to get the plan that it keeps (PostgreSQL compares after five). */
const ROUNDS = 6;
/** A step that visits more of a table than this reads what belongs to other events: this one has less than a hundredth. */
const SHARE = 0.2;

/**
 * Small tables are read from end to end, or joined as a whole, because that is cheap there. What counts is whether there is a
 * way that does not grow; which one is chosen in a large database is shown by `npm run bench:scale`.
 */
const ASKED_FOR_PROBES = { enable_seqscan: 'off', enable_hashjoin: 'off', enable_mergejoin: 'off' };

const watch = watchPlans();
let t: TestApp;
let paths: HotPath[];
let rowsOf: ReadonlyMap<string, number>;

beforeAll(async () => {
  const database = await createTestDatabase();
  const url = explained(database.url, ASKED_FOR_PROBES);
  t = await startTestApp({ config: { poolSize: 2 }, database: { ...database, url } });
  const base = addressOf(t);
  const { token: organizer } = await t.mint('organizer');
  const club = await clubOf(t, base);
  const played = await playClub({ deps: t.deps, base, organizer }, club, CARS);
  await sealAll(t.deps);
  await multiplyEvent(database.url, { eventId: club.eventId, copies: EVENTS, perEvent: 1, from: 1 });
  paths = [...hotPaths(t.deps, played), relaying(t.deps), importPath(played, club.eventId, CARS)];
  const counted = GROWING.map((table) => `SELECT '${table}' AS table, count(*)::int AS rows FROM ${table}`);
  const { rows } = await t.deps.db.pool.query<{ table: string; rows: number }>(counted.join(' UNION ALL '));
  rowsOf = new Map(rows.map(({ table, rows }) => [table, rows]));
});
afterAll(async () => {
  await t.close();
  watch.stop();
});

async function clubOf(test: TestApp, base: string): Promise<Club> {
  const event = await createTestEvent(test);
  const entries: Club['entries'] = [];
  for (let at = 0; at < CARS; at += 1) {
    const { entryId, carNumber, entrant } = await createTestEntry(test, event, { carNumber: `B${at}` });
    entries.push({ entryId, carNumber, token: entrant.token });
  }
  const [chief, inspector] = [(await test.mint('chief')).token, (await test.mint('inspector')).token];
  const { eventId, novice: groupId } = event;
  return { eventId, groupId, chief, inspector, entries, answers: GOOD_ANSWERS, call: apiClient(base) };
}

function addressOf({ app }: TestApp): string {
  const address = app.server.address();
  return typeof address === 'object' && address !== null ? `http://127.0.0.1:${address.port}` : '';
}

async function sealAll(deps: Deps): Promise<void> {
  for (const one of await listUnsealedEvents(deps.db.pool)) while (await sealBatch(deps.db.pool, one));
  await signHeads(deps, deps.db.pool);
}

/** The relay looks at once when it starts, and once more when it stops. */
function relaying({ db }: Deps): HotPath {
  const queue = { add: async () => undefined } as unknown as Parameters<typeof startRelay>[0]['queue'];
  const log = createLogger({ level: 'silent' });
  return { name: 'relay', run: () => startRelay({ pool: db.pool, queue, log, pollMs: 1000 }).stop() };
}

/** Rows that a step looked at in one of its turns, whether it kept them or not. */
const visited = (step: PlanNode): number => (step['Actual Rows'] ?? 0) + (step['Rows Removed by Filter'] ?? 0);

/** Tables that a part of this statement may read whole, and why. */
const EXCUSED: readonly { table: string; text: RegExp; why: string }[] = [
  { table: 'events', text: /AS "publishedSets"/, why: 'the office asks how many events there are' },
  {
    table: 'events',
    text: /"retentionDays"|over > |WITH over AS/,
    why: 'once an hour, every event is asked whether its time is over',
  },
  { table: 'gate_checks', text: /over > /, why: 'the same: each event that is over is asked for what is left' },
  { table: 'entries', text: /WITH over AS/, why: 'the same' },
];
const isExcused = (table: string, text: string) => EXCUSED.some((one) => one.table === table && one.text.test(text));

/** Where statements read what belongs to others. */
function foreignReads(statements: readonly RanStatement[]): string[] {
  return statements.flatMap(({ text, plan }) =>
    [...stepsOf(plan)].flatMap((step) => {
      const table = step['Relation Name'];
      const rows = table === undefined ? undefined : rowsOf.get(table);
      // Nobody could tell from a handful of rows.
      if (table === undefined || rows === undefined || rows < EVENTS || isExcused(table, text)) return [];
      const reads = step['Node Type'] === 'Seq Scan' || visited(step) > rows * SHARE;
      const how = `${step['Node Type']} of ${table}: ${visited(step)} of ${rows} rows`;
      return reads ? [`${how}, in ${text.replaceAll(/\s+/g, ' ').slice(0, 300)}`] : [];
    }),
  );
}

async function ranBy(path: HotPath): Promise<RanStatement[]> {
  let ran: RanStatement[] = [];
  for (let round = 0; round < ROUNDS; round += 1) {
    const prepared = await path.prepare?.(round);
    watch.take();
    const result = await path.run(round, prepared);
    ran = [...ran, ...watch.take().statements];
    await path.after?.(result);
  }
  return ran;
}

test('every table that grows has rows of other events, so that a plan says something', () => {
  const few = [...rowsOf].filter(([, rows]) => rows < EVENTS).map(([table]) => table);
  expect(few).toEqual(['event_heads', 'idempotency'].filter((table) => few.includes(table)));
});

test('nothing that is done all day reads what belongs to other events', async () => {
  const found: Record<string, string[]> = {};
  for (const path of paths) {
    const statements = await ranBy(path);
    if (path.name !== 'photos of nobody') expect(statements.length, path.name).toBeGreaterThan(0);
    const reads = [...new Set(foreignReads(statements))];
    if (reads.length > 0) found[path.name] = reads;
  }
  expect(found).toEqual({});
});

test('a statement without an index is noticed', async () => {
  const bad = {
    name: 'bad',
    run: () => t.deps.db.pool.query(`SELECT FROM entries WHERE entrant ->> 'name' = 'Entrant 1'`),
  };
  expect(foreignReads(await ranBy(bad))).not.toEqual([]);
});
