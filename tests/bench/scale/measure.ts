import { setTimeout as sleep } from 'node:timers/promises';
import type { HotPath } from '../../support/hot-paths.ts';
import { type PlanNode, type PlanWatch, stepsOf } from '../../support/plans.ts';

/** What one path costs at one size of the database. */
export interface Cost {
  /** median of what the caller waits, milliseconds, everything in memory already */
  ms: number;
  /** statements that were sent, `BEGIN` and `COMMIT` among them */
  sent: number;
  /** pages of tables and indexes that were looked at */
  buffers: number;
  /** searches from the root of an index, reading and writing */
  probes: number;
  /** tables that were read from end to end */
  whole: string[];
  /** the statement that looked at the most */
  heaviest: string;
}

const WARM_UP = 6;
const ROUNDS = 11;
/** Large ones take seconds. */
const FEW = 3;

const median = (values: readonly number[]): number =>
  values.toSorted((a, b) => a - b)[Math.floor(values.length / 2)] ?? 0;

/** Indexes of each table: a row that is written is entered into them. */
export type IndexCounts = ReadonlyMap<string, number>;

function probesOf(plan: PlanNode, indexes: IndexCounts): number {
  let probes = 0;
  for (const step of stepsOf(plan)) {
    const loops = step['Actual Loops'] ?? 1;
    if (step['Index Name'] !== undefined) probes += loops;
    if (step['Node Type'] !== 'ModifyTable') continue;
    const below = step.Plans?.[0];
    const rows = Math.round((below?.['Actual Rows'] ?? 0) * (below?.['Actual Loops'] ?? 1));
    probes += rows * ((indexes.get(step['Relation Name'] ?? '') ?? 0) + 1);
  }
  return probes;
}

async function once(path: HotPath, round: number): Promise<number> {
  const prepared = await path.prepare?.(round);
  const started = performance.now();
  const result = await path.run(round, prepared);
  const ms = performance.now() - started;
  await path.after?.(result);
  return ms;
}

const isSlow = (path: HotPath) => /import of|trial|audit/.test(path.name);

/** What callers wait for a path, on connections that tell nothing. */
export async function timeOf(path: HotPath): Promise<number> {
  const times: number[] = [];
  const [warmUp, rounds] = isSlow(path) ? [1, FEW] : [WARM_UP, ROUNDS];
  for (let round = 0; round < warmUp + rounds; round += 1) {
    const ms = await once(path, round);
    if (round >= warmUp) times.push(ms);
  }
  return median(times);
}

/** What the database looks at for a path, on connections that tell it. */
export async function pagesOf(path: HotPath, watch: PlanWatch, indexes: IndexCounts): Promise<Omit<Cost, 'ms'>> {
  // As often as it takes for prepared statements to keep one plan, on the connection that is mostly taken.
  const warmUp = isSlow(path) ? 1 : WARM_UP + 1;
  for (let round = 0; round < warmUp; round += 1) await once(path, round);
  const prepared = await path.prepare?.(warmUp);
  watch.take();
  const result = await path.run(warmUp, prepared);
  // What is written beside the answer.
  await sleep(20);
  const { sent, statements } = watch.take();
  await path.after?.(result);
  const whole = new Set<string>();
  let [buffers, probes] = [0, 0];
  for (const { plan, buffers: seen } of statements) {
    buffers += seen;
    probes += probesOf(plan, indexes);
    for (const step of stepsOf(plan)) {
      if (step['Node Type'] === 'Seq Scan' && step['Relation Name'] !== undefined) whole.add(step['Relation Name']);
    }
  }
  const most = statements.toSorted((a, b) => b.buffers - a.buffers)[0];
  const heaviest = most === undefined ? '' : `${most.buffers} in ${most.text.replaceAll(/\s+/g, ' ').slice(0, 160)}`;
  return { sent, buffers, probes, whole: [...whole].toSorted(), heaviest };
}
