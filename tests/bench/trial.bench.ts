import { compileRuleSet, evaluate } from '../../src/domain/rules/judge/evaluate.ts';
import { RuleSet } from '../../src/domain/rules/model/rule-set.ts';
import { openTrial } from '../../src/domain/rules/trial/trial-summary.ts';
import type { TrialResult } from '../../src/features/rules/trials/schemas.ts';
import { trialJob } from '../../src/features/rules/trials/trial.job.ts';
import { createLogger } from '../../src/platform/logger.ts';
import { createTask, findTask } from '../../src/records/tasks.ts';
import { makeBenchCars } from './rules-bench-cars.ts';
import { makeBenchRuleSet } from './rules-bench-set.ts';
import { type BenchDatabase, declarable, fillDeclarations, startBenchDatabase } from './trial-bench-data.ts';

export interface TrialBench {
  declarations: number;
  rules: number;
  flipped: number;
  /** the whole job in the worker: reading, judging, comparing, writing; milliseconds, median and rounds */
  jobMs: number;
  jobRounds: number[];
  /** processor time of this process in the job, median, milliseconds; the database has its own */
  jobCpuMs: number;
  /** judging, comparing and adding up what is in memory already */
  judgedMs: number;
  /** nothing but `evaluate` on what is in memory already */
  loopMs: number;
}

const CARS = 1000;
const ROUNDS = 9;
const WARM_UP = 2;

const median = (values: readonly number[]): number =>
  values.toSorted((a, b) => a - b)[Math.floor(values.length / 2)] ?? 0;

async function timed(run: () => unknown): Promise<number> {
  const started = performance.now();
  await run();
  return performance.now() - started;
}

/** The bench's rules with this pad minimum, and nothing else that bars: random cars fail something of everything. */
function rulesWith(padMinimum: number): RuleSet {
  const document = RuleSet.parse(makeBenchRuleSet());
  const parameter = { ...document.parameters['padMinimum'], value: padMinimum, unit: 'mm', meaning: 'Least material' };
  const isOfPads = ({ test }: RuleSet['rules'][number]) => JSON.stringify(test).includes('"padMinimum"');
  const rules = document.rules.map((rule) => ({ ...rule, effect: isOfPads(rule) ? rule.effect : ('advise' as const) }));
  return { ...document, parameters: { ...document.parameters, padMinimum: parameter }, rules };
}

async function runJob({ deps }: BenchDatabase, subject: { eventId: string; ruleSetId: string }, document: unknown) {
  const request = { eventIds: [subject.eventId], tried: { kind: 'draft', contentHash: 'bench', document } };
  const actor = { tokenId: '00000000-0000-7000-8000-000000000001', role: 'organizer', name: 'Bench' } as const;
  const at = new Date();
  const task = await createTask(deps.db.prisma, { kind: 'trial', subjectId: subject.ruleSetId, request, actor, at });
  const context = { log: createLogger({ level: 'silent' }), jobId: 'bench', requestId: null, attempt: 1 };
  const cpuBefore = process.cpuUsage();
  const ms = await timed(() => trialJob.handle(deps, { trialId: task.taskId }, context));
  const cpu = process.cpuUsage(cpuBefore);
  const cpuMs = (cpu.user + cpu.system) / 1000;
  const done = await findTask(deps.db.prisma, 'trial', task.taskId);
  if (done?.state !== 'done') throw new Error(`the trial is ${done?.state}: ${done?.error}`);
  return { ms, cpuMs, result: done.result as TrialResult };
}

/**
 * A trial of 120 rules over 1000 stored declarations, as the worker runs it on a database with production settings,
 * beside the same judgements in memory and a plain loop of `evaluate`, in turns in one process.
 */
export async function benchTrial(): Promise<TrialBench> {
  const [document, tried] = [rulesWith(5), rulesWith(6)];
  const [before, after] = [compileRuleSet(document), compileRuleSet(tried)];
  const cars = makeBenchCars(CARS).map(declarable);
  const stored = cars.map((car) => evaluate(before, car));
  const database = await startBenchDatabase();
  try {
    const subject = await fillDeclarations(database.deps, document, before, cars);
    const times: Record<'job' | 'cpu' | 'judged' | 'loop', number[]> = { job: [], cpu: [], judged: [], loop: [] };
    const flipped = new Set<number>();
    for (let round = -WARM_UP; round < ROUNDS; round += 1) {
      const job = await runJob(database, subject, tried);
      const tally = openTrial<number>(tried);
      const judged = await timed(() => {
        for (const [at, car] of cars.entries()) {
          const was = stored[at];
          if (was !== undefined) tally.add(at, was, evaluate(after, car));
        }
      });
      const loop = await timed(() => cars.forEach((car) => evaluate(after, car)));
      // both sides must find the same, or the numbers compare nothing
      flipped.add(job.result.totals.flipped).add(tally.summary().totals.flipped);
      if (job.result.totals.judged !== CARS || flipped.size !== 1) throw new Error(`flips: ${[...flipped].join(', ')}`);
      if (round < 0) continue;
      times.job.push(job.ms);
      times.cpu.push(job.cpuMs);
      times.judged.push(judged);
      times.loop.push(loop);
    }
    const { job, cpu, judged, loop } = times;
    return {
      declarations: CARS,
      rules: tried.rules.length,
      flipped: [...flipped][0] ?? 0,
      jobMs: median(job),
      jobRounds: job.map(Math.round),
      jobCpuMs: median(cpu),
      judgedMs: median(judged),
      loopMs: median(loop),
    };
  } finally {
    await database.stop();
  }
}
