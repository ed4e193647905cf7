import { loadavg } from 'node:os';
import { parseArgs } from 'node:util';
import { kindsOf, type Mode } from './plan.ts';
import { randomOf } from './random.ts';
import { type FaultReport, runFaults, summary } from './run-faults.ts';

const BATCH = 25;
const EMBEDDED_EVERY = 4;
const SHOWN = 20;

const say = (line: string) => process.stdout.write(`${line}\n`);

/**
 * `npm run faults -- --rounds 500 --seed 7 --at-once 2`: rounds in batches, each on a fresh system, three of four with separate
 * processes. A batch that finds something is repeated alone with the command that is printed.
 */
async function main(): Promise<void> {
  const { rounds, seed, mode, atOnce, quiet } = readArguments();
  say(`${rounds} rounds, seed ${seed}; load of the machine ${loadavg()[0]?.toFixed(1)}`);
  const reports: FaultReport[] = [];
  const batches = batchesOf({ rounds, seed, mode });
  // Each takes the next: a round is mostly waiting, so two at once take little more than half of the time.
  const worker = async () => {
    for (let one = batches.shift(); one !== undefined; one = batches.shift()) {
      const report = await runFaults({ ...one, ...(quiet ? {} : { say }) });
      show(report, one);
      reports.push(report);
    }
  };
  await Promise.all(Array.from({ length: atOnce }, worker));
  const faults = reports.flatMap((report) => report.faults);
  const sum = (of: (report: FaultReport) => number) => reports.reduce((total, report) => total + of(report), 0);
  const violations = sum((report) => report.violations.length);
  say(
    [
      `faults: ${sum((report) => report.rounds)} rounds, ${faults.length} faults (${kindsOf(faults)})`,
      `${sum((report) => report.counts['operations'] ?? 0)} operations`,
      `${sum((report) => report.counts['lookups'] ?? 0)} lookups, ${violations} violations`,
      `${sum((report) => report.harmfulStaleReads)} harmful stale reads, seed ${seed}`,
    ].join(', '),
  );
  if (violations > 0) process.exitCode = 1;
}

interface Batch {
  seed: number;
  rounds: number;
  mode: Mode;
}

function batchesOf({ rounds, seed, mode }: { rounds: number; seed: number; mode: Mode | undefined }): Batch[] {
  return Array.from({ length: Math.ceil(rounds / BATCH) }, (_, batch) => ({
    // The first batch has the seed itself, so that a batch can be repeated alone.
    seed: batch === 0 ? seed : randomOf(seed, `batch/${batch}`).between(1, 999_999),
    rounds: Math.min(BATCH, rounds - batch * BATCH),
    mode: mode ?? ((batch + 1) % EMBEDDED_EVERY === 0 ? 'embedded' : 'processes'),
  }));
}

interface Arguments {
  rounds: number;
  seed: number;
  mode: Mode | undefined;
  /** batches that run at the same time */
  atOnce: number;
  quiet: boolean;
}

function readArguments(): Arguments {
  const text = { type: 'string' } as const;
  const options = { rounds: text, seed: text, mode: text, 'at-once': text, quiet: { type: 'boolean' } } as const;
  const { values } = parseArgs({ options });
  const { mode, quiet = false } = values;
  if (mode !== undefined && mode !== 'processes' && mode !== 'embedded') throw new Error('--mode processes|embedded');
  const rounds = wholeNumber(values.rounds ?? '100', 'rounds');
  const seed = wholeNumber(values.seed ?? String(Math.floor(Math.random() * 1_000_000)), 'seed');
  const atOnce = Math.max(1, wholeNumber(values['at-once'] ?? '1', 'at-once'));
  return { rounds, seed, mode, atOnce, quiet };
}

function show(report: FaultReport, { seed, rounds, mode }: Batch): void {
  say(summary(report));
  say(
    `  statuses: ${[...report.statuses]
      .sort(([a], [b]) => a - b)
      .map(([status, count]) => `${status || 'none'} ${count}`)
      .join(', ')}`,
  );
  for (const reason of report.skipped) say(`  SKIPPED: ${reason}`);
  for (const { promise, what } of report.violations.slice(0, SHOWN)) say(`  VIOLATION: ${promise}: ${what}`);
  if (report.violations.length === 0) return;
  if (report.violations.length > SHOWN) say(`  and ${report.violations.length - SHOWN} more`);
  say(`  again: npm run faults -- --rounds ${rounds} --seed ${seed} --mode ${mode}`);
}

function wholeNumber(text: string, name: string): number {
  if (!/^\d{1,9}$/.test(text)) throw new Error(`--${name} must be a whole number`);
  return Number(text);
}

await main();
