import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { cpus, loadavg } from 'node:os';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { hotPaths } from '../../support/hot-paths.ts';
import { GROWING, multiplyEvent } from '../../support/multiply.ts';
import { type PlanWatch, watchPlans } from '../../support/plans.ts';
import { largePaths } from './large.ts';
import { type Cost, type IndexCounts, pagesOf, timeOf } from './measure.ts';
import { BACKGROUND, CARS, openWorld, type World } from './world.ts';

/** Entries in the database beside the event that is measured, and how many copies of it make one event. */
const SIZES = [
  { name: '1k', entries: 1000, perEvent: 2 },
  { name: '100k', entries: 100_000, perEvent: 2 },
  { name: '1M', entries: 1_000_000, perEvent: 10 },
] as const;
type Size = (typeof SIZES)[number];

const TIME_TARGET = 1.3;
const say = (text: string) => process.stdout.write(`${text}\n`);

async function indexesOf({ plain }: World): Promise<IndexCounts> {
  const { rows } = await plain.deps.db.pool.query<{ table: string; indexes: number }>(
    `SELECT relname AS table, count(*)::int AS indexes FROM pg_index JOIN pg_class ON pg_class.oid = indrelid GROUP BY 1`,
  );
  return new Map(rows.map(({ table, indexes }) => [table, indexes]));
}

async function growTo(world: World, size: Size, from: number): Promise<number> {
  const copies = Math.ceil(size.entries / CARS) - (from - BACKGROUND);
  const started = performance.now();
  const { eventId } = world.plain.club;
  await multiplyEvent(world.url, { eventId, copies, perEvent: size.perEvent, from });
  const { rows } = await world.plain.deps.db.pool.query<{ entries: number; events: number; size: string }>(
    `SELECT (SELECT count(*)::int FROM entries) AS entries, (SELECT count(*)::int FROM events) AS events,
       pg_size_pretty(pg_database_size(current_database())) AS size`,
  );
  const [there] = rows;
  say(
    `${size.name}: ${there?.entries} entries in ${there?.events} events, ${there?.size}, filled in ${((performance.now() - started) / 1000).toFixed(0)} s, load ${loadavg()[0]?.toFixed(1)}`,
  );
  return from + copies;
}

const SERVER = fileURLToPath(new URL('../../../src/server.js', import.meta.url));

/** The built server on this database, from the start of its process to the line that says that it is ready. */
async function timeOfStart(url: string): Promise<number> {
  const started = performance.now();
  const env = { PATH: process.env['PATH'] ?? '', DATABASE_URL: url, LOG_LEVEL: 'info', PORT: '0', HOST: '127.0.0.1' };
  const server = spawn(process.execPath, [SERVER], { env, stdio: ['ignore', 'pipe', 'inherit'] });
  const ended = once(server, 'exit');
  let ms = Number.NaN;
  for await (const line of createInterface(server.stdout)) {
    if (!line.includes('Gridworthy is ready')) continue;
    ms = performance.now() - started;
    server.kill('SIGTERM');
  }
  await ended;
  return ms;
}

type Costs = Map<string, Cost>;

/** What is measured: a part of the paths, and without the times, which say nothing on a busy machine. */
interface Wanted {
  only: string | undefined;
  pages: boolean;
}

async function measure(world: World, watch: PlanWatch, { only, pages }: Wanted): Promise<Costs> {
  const indexes = await indexesOf(world);
  const { plain, told } = world;
  const paths = [...hotPaths(plain.deps, plain.club), ...largePaths(plain, world)];
  const toldPaths = [...hotPaths(told.deps, told.club), ...largePaths(told, world)];
  const costs: Costs = new Map();
  for (const [at, path] of paths.entries()) {
    const telling = toldPaths[at];
    if (telling === undefined || (only !== undefined && !path.name.includes(only))) continue;
    const ms = pages ? Number.NaN : await timeOf(path);
    costs.set(path.name, { ms, ...(await pagesOf(telling, watch, indexes)) });
  }
  if (!pages && (only === undefined || 'start of the server'.includes(only))) {
    const ms = await timeOfStart(world.url);
    costs.set('start of the server', { ms, sent: 0, buffers: 0, probes: 0, whole: [], heaviest: '' });
  }
  return costs;
}

const wholeOf = ({ whole }: Cost) => whole.filter((table) => GROWING.includes(table));

function lineOf(name: string, [first, ...later]: readonly Cost[]): string {
  const last = later.at(-1) ?? first;
  if (first === undefined || last === undefined) return '';
  const grown = last.buffers - first.buffers;
  const ratio = last.ms / first.ms;
  const missed = [
    ...(grown > Math.max(first.probes, last.probes) ? ['PAGES'] : []),
    ...(ratio > TIME_TARGET ? ['TIME'] : []),
    ...(wholeOf(last).length > 0 ? [`reads all of ${wholeOf(last).join(', ')}`] : []),
  ];
  const all = [first, ...later];
  const times = all.map(({ ms }) => (Number.isNaN(ms) ? '' : ms.toFixed(1))).join(' → ');
  const pages = all.map(({ buffers }) => buffers).join(' → ');
  const sent = [...new Set(all.map((cost) => cost.sent))].join(' → ');
  return `| ${name} | ${times} | ${Number.isNaN(ratio) ? '' : ratio.toFixed(2)} | ${sent} | ${pages} | ${last.probes} | ${missed.join('; ')} |`;
}

/**
 * `npm run bench:scale`: two sizes, minutes; `-- --long` adds a million entries; `-- --only gate` a part,
 * `-- --pages` no times.
 */
async function main(): Promise<void> {
  const flag = { type: 'boolean', default: false } as const;
  const { values: given } = parseArgs({ options: { long: flag, pages: flag, only: { type: 'string' } } });
  const values = { ...given, only: given.only };
  say(`${new Date().toISOString()}, ${cpus().length} cores, load before ${loadavg()[0]?.toFixed(1)}`);
  const watch = watchPlans();
  const world = await openWorld();
  try {
    const rows = new Map<string, Cost[]>();
    let from = BACKGROUND;
    for (const size of values.long ? SIZES : SIZES.slice(0, 2)) {
      from = await growTo(world, size, from);
      for (const [name, cost] of await measure(world, watch, values)) rows.set(name, [...(rows.get(name) ?? []), cost]);
    }
    say('| what | ms | ratio | statements | pages | searches of an index | missed |');
    say('| --- | --- | --- | --- | --- | --- | --- |');
    for (const [name, costs] of rows) say(lineOf(name, costs));
    say('the statement with the most pages, at the largest size:');
    for (const [name, costs] of rows) say(`  ${name}: ${costs.at(-1)?.heaviest ?? ''}`);
    say(`load after ${loadavg()[0]?.toFixed(1)}`);
  } finally {
    await world.stop();
    watch.stop();
  }
}

await main();
