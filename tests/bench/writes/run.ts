import { randomUUID } from 'node:crypto';
import { loadavg } from 'node:os';
import { parseArgs } from 'node:util';
import { startBenchService, type BenchService } from '../gate-service.ts';
import { type Operation, OPERATIONS, rowsOf, startBare, startCrud, type WrittenRows } from './baselines.ts';
import { claimOf, type Club, type ClubEntry, makeClub, prepare } from './club.ts';
import { type LoadRequest, startWriteLoad, type WriteLoad, type WriteTimes } from './load.ts';

const CARS = 120;
const WRITERS = [1, 10] as const;
const say = (text: string) => process.stdout.write(`${text}\n`);

type Scenario = 'submit' | 'submit, new heat inputs' | 'sign-off' | 'hold' | 'draft';
const OPERATION: Record<Scenario, Operation> = {
  submit: 'submit',
  'submit, new heat inputs': 'submit',
  'sign-off': 'sign-off',
  hold: 'hold',
  draft: 'draft',
};
/** Share of the bare route that is wanted. */
const TARGET: Record<Scenario, number> = {
  submit: 0.35,
  'submit, new heat inputs': 0.15,
  'sign-off': 0.5,
  hold: 0.5,
  draft: 0.4,
};
const SCENARIOS = Object.keys(OPERATION) as Scenario[];
const CRUD_TARGET = 3;
/** Of write-ahead log for a submission, the images of pages after a checkpoint aside. */
const WAL_TARGET_BYTES = 40_000;

interface Bench {
  service: BenchService;
  club: Club;
  /** entries that only the ORM's baseline writes to */
  others: readonly ClubEntry[];
  load: WriteLoad;
  bare: string;
  crud: string;
}

const headers = (token: string, more: Record<string, string> = {}) => ({
  authorization: `Bearer ${token}`,
  'content-type': 'application/json',
  ...more,
});
const withKey = (token: string) => headers(token, { 'idempotency-key': randomUUID() });

/** Deals requests out to writers, each entry to one of them. */
function deal(requests: readonly LoadRequest[], writers: number): LoadRequest[][] {
  return Array.from({ length: writers }, (_, lane) => requests.filter((_one, at) => at % writers === lane));
}

/** Gives every car another mass: what a venue asks of its brakes is worked out anew. */
async function newHeatInputs({ deps }: BenchService): Promise<void> {
  await deps.db.pool.query(
    `UPDATE vehicles SET record = jsonb_set(record, '{massKg}', to_jsonb(1000 + floor(random() * 600000) / 1000))`,
  );
}

/** A draft as it is saved again while somebody types: one answer is another than in the one before. */
function typedInto(answers: Club['answers']): { answers: Club['answers'] } {
  const pads = answers['pad.thickness'] as Record<string, unknown>;
  const thickness = Math.round((7 + Math.random() * 3) * 10) / 10;
  return { answers: { ...answers, 'pad.thickness': { ...pads, 'FL.in': thickness } } };
}

/** What one round of the service is sent; the same number of requests whatever the writers. */
async function requestsOf({ service, club }: Bench, scenario: Scenario, entries: readonly ClubEntry[]) {
  const at = `${service.base}/v1`;
  const declared = JSON.stringify({ answers: club.answers });
  switch (scenario) {
    case 'submit, new heat inputs':
      await newHeatInputs(service);
      return entries.map(submitOf);
    case 'submit':
      return entries.map(submitOf);
    case 'sign-off': {
      const claims = await prepare(entries, (entry) => claimOf(club, entry));
      return claims.map(({ claimId, body }): LoadRequest => {
        const url = `${at}/claims/${claimId}/sign-off`;
        return { method: 'POST', url, headers: withKey(club.inspector), body: JSON.stringify(body) };
      });
    }
    case 'hold':
      return entries.map(({ entryId }): LoadRequest => {
        const body = JSON.stringify({ reason: 'Contact in session 2, left rear corner', kind: 'contact' });
        return { method: 'POST', url: `${at}/entries/${entryId}/holds`, headers: withKey(club.chief), body };
      });
    case 'draft': {
      const { rows } = await service.deps.db.pool.query<{ id: string; rev: number }>(
        'SELECT entry_id AS id, rev FROM drafts',
      );
      const revs = new Map(rows.map(({ id, rev }) => [id, rev]));
      return entries.map(({ entryId, token }): LoadRequest => {
        const match = { 'if-match': `"${revs.get(entryId) ?? 0}"` };
        const url = `${at}/entries/${entryId}/declaration`;
        return { method: 'PUT', url, headers: headers(token, match), body: JSON.stringify(typedInto(club.answers)) };
      });
    }
  }
  function submitOf({ entryId, token }: ClubEntry): LoadRequest {
    return { method: 'POST', url: `${at}/entries/${entryId}/inspections`, headers: withKey(token), body: declared };
  }
}

async function afterRound({ service, club }: Bench, scenario: Scenario): Promise<void> {
  if (scenario !== 'hold') return;
  const { rows } = await service.deps.db.pool.query<{ id: string }>(
    `SELECT h.id FROM holds h JOIN clearances c ON c.entry_id = h.entry_id
     WHERE h.lifted_at IS NULL AND h.entry_id = ANY ($1)`,
    [club.entries.map(({ entryId }) => entryId)],
  );
  const body = { reason: 'Looked at', exception: 'Bench' };
  for (const { id } of rows) await club.call('POST', `/v1/holds/${id}/lift`, { token: club.chief, body });
}

/** The ORM's baseline gets the same preparation. */
async function crudRequests(bench: Bench, scenario: Scenario, entries: readonly ClubEntry[]): Promise<LoadRequest[]> {
  const operation = OPERATION[scenario];
  const body = JSON.stringify({ answers: bench.club.answers });
  const ids =
    operation === 'sign-off'
      ? (await prepare(entries, (entry) => claimOf(bench.club, entry))).map(({ claimId }) => claimId)
      : entries.map(({ entryId }) => entryId);
  const url = (id: string) => `${bench.crud}/crud/${operation}/${id}`;
  return ids.map((id) => ({ method: 'POST', url: url(id), headers: withKey('none'), body }));
}

function bareRequests(bench: Bench, scenario: Scenario, entries: readonly ClubEntry[]): LoadRequest[] {
  const url = `${bench.bare}/bare/${OPERATION[scenario]}`;
  const body = JSON.stringify({ answers: bench.club.answers });
  return entries.map(() => ({ method: 'POST', url, headers: withKey('none'), body }));
}

type Side = 'ours' | 'bare' | 'crud';
type Results = Map<string, WriteTimes[]>;
const keyOf = (scenario: Scenario, writers: number, side: Side) => `${scenario}/${writers}/${side}`;

async function roundOf(bench: Bench, scenario: Scenario, writers: number, results: Results): Promise<void> {
  const take = <T>(entries: readonly T[]) => (writers === 1 ? entries.slice(0, entries.length / 2) : entries);
  const run = async (side: Side, requests: readonly LoadRequest[]) => {
    const times = await bench.load.run(deal(requests, writers));
    const key = keyOf(scenario, writers, side);
    results.set(key, [...(results.get(key) ?? []), times]);
    for (const failed of times.failed.slice(0, 3)) say(`  ${key}: ${failed}`);
  };
  await run('bare', bareRequests(bench, scenario, take(bench.club.entries)));
  await run('ours', await requestsOf(bench, scenario, take(bench.club.entries)));
  await afterRound(bench, scenario);
  await run('crud', await crudRequests(bench, scenario, take(bench.others)));
}

const quantile = (times: readonly number[], share: number) => {
  const sorted = times.toSorted((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))] ?? 0;
};

function summary(all: readonly WriteTimes[]): { perSecond: number; p50: number; p99: number; text: string } {
  const times = all.flatMap((one) => one.times);
  const perSecond = (times.length / all.reduce((sum, one) => sum + one.wallMs, 0)) * 1000;
  const [p50, p99] = [quantile(times, 0.5), quantile(times, 0.99)];
  const text = `${perSecond.toFixed(1)}/s, p50 ${p50.toFixed(1)}, p99 ${p99.toFixed(1)} ms`;
  return { perSecond, p50, p99, text };
}

function report(results: Results): void {
  say('| what | writers | ours | bare | of bare (wanted) | usual ORM | times the ORM (wanted 3) |');
  say('| --- | --- | --- | --- | --- | --- | --- |');
  for (const scenario of SCENARIOS.filter((one) => results.has(keyOf(one, 1, 'ours')))) {
    for (const writers of WRITERS) {
      const of = (side: Side) => summary(results.get(keyOf(scenario, writers, side)) ?? []);
      const [ours, bare, crud] = [of('ours'), of('bare'), of('crud')];
      const [share, times] = [ours.perSecond / bare.perSecond, ours.perSecond / crud.perSecond];
      const met = (reached: boolean) => (reached ? '' : ' MISSED');
      say(
        `| ${scenario} | ${writers} | ${ours.text} | ${bare.text} | ${share.toFixed(2)} (${TARGET[scenario]})${met(share >= TARGET[scenario])} | ${crud.text} | ${times.toFixed(2)}${met(times >= CRUD_TARGET)} |`,
      );
    }
  }
}

const kb = (bytes: number) => `${(bytes / 1000).toFixed(1)} kB`;

/** What the newest write of an operation left in the tables. */
async function lastWritten({ deps }: BenchService, operation: Operation): Promise<WrittenRows> {
  const [table, column] = operation === 'draft' ? ['drafts', 'updated_at'] : ['idempotency', 'created_at'];
  const text = `SELECT xmin::text AS xid FROM ${table} ORDER BY ${column} DESC LIMIT 1`;
  const { rows } = await deps.db.pool.query<{ xid: string }>(text);
  return rowsOf(deps.db.pool, rows[0]?.xid ?? '');
}

/** Does an operation and prints its rows, its bytes, and what it added to the log of the database. */
async function recordOne(bench: Bench, operation: Operation, entry: ClubEntry, isFirst: boolean): Promise<WrittenRows> {
  const { service, load } = bench;
  const { pool } = service.deps.db;
  const requests = await requestsOf(bench, operation, [entry]);
  const { rows: before } = await pool.query<{ lsn: string }>('SELECT pg_current_wal_insert_lsn() AS lsn');
  const { failed, answerBytes } = await load.run([requests]);
  if (failed.length > 0) throw new Error(`${operation}: ${failed.join()}`);
  const { rows } = await pool.query<{ wal: string }>(
    'SELECT pg_wal_lsn_diff(pg_current_wal_insert_lsn(), $1::pg_lsn) AS wal',
    [before[0]?.lsn],
  );
  const written = await lastWritten(service, operation);
  const list = written.map((row) => `${row.table} ${kb(row.json.length)}`).join(', ');
  const sum = written.reduce((bytes, row) => bytes + row.json.length, 0);
  say(`${operation}: ${written.length} rows, ${kb(sum)}: ${list}`);
  const wal = Number(rows[0]?.wal ?? 0);
  // the first write to a page after the checkpoint logs the whole page
  const isHeld = operation === 'submit' && !isFirst;
  const missed = isHeld && wal > WAL_TARGET_BYTES ? ' MISSED' : '';
  const wanted = isHeld ? ` (wanted at most ${kb(WAL_TARGET_BYTES)})${missed}` : '';
  say(`  answer ${kb(answerBytes)}, write-ahead log ${kb(wal)}${wanted}`);
  await afterRound(bench, operation);
  return written;
}

async function recordWritten(bench: Bench): Promise<Record<Operation, WrittenRows>> {
  const [entry] = bench.club.entries;
  if (entry === undefined) throw new Error('no entry');
  const written = {} as Record<Operation, WrittenRows>;
  // the page images after a checkpoint are not what is looked at
  await bench.service.deps.db.pool.query('CHECKPOINT');
  for (const isFirst of [true, false]) {
    for (const operation of OPERATIONS) written[operation] = await recordOne(bench, operation, entry, isFirst);
  }
  return written;
}

/** `npm run bench:writes -- --rounds 3`: a few minutes. */
async function main(): Promise<void> {
  const { values } = parseArgs({ options: { rounds: { type: 'string', default: '3' }, only: { type: 'string' } } });
  say(`load of the machine before: ${loadavg()[0]?.toFixed(1)}; ${CARS} entries; ${new Date().toISOString()}`);
  // Every request is to be answered, however busy the machine is beside it.
  const service = await startBenchService({ MAX_LOOP_DELAY_MS: '0', MAX_WAIT_MS: '0' });
  const load = startWriteLoad();
  const club = await makeClub(service, CARS);
  // half of the cars are the baseline's
  const others = club.entries.splice(CARS / 2);
  const bench: Bench = { service, club, others, load, bare: '', crud: '' };
  const written = await recordWritten(bench);
  const bare = await startBare(service.deps.db.pool.options, written);
  const crud = await startCrud(service.deps.db, written);
  bench.bare = bare.base;
  bench.crud = crud.base;
  const results: Results = new Map();
  const wanted = SCENARIOS.filter((scenario) => values.only === undefined || scenario.startsWith(values.only));
  try {
    for (const scenario of wanted) await roundOf(bench, scenario, 10, new Map());
    for (let round = 0; round < Number(values.rounds); round += 1) {
      for (const scenario of wanted) for (const writers of WRITERS) await roundOf(bench, scenario, writers, results);
    }
    say(`load of the machine after: ${loadavg()[0]?.toFixed(1)}`);
    report(results);
  } finally {
    await load.stop();
    await bare.close();
    await crud.close();
    await service.stop();
  }
}

await main();
