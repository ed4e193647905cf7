import { cpus, loadavg } from 'node:os';
import { benchBrakeHeat } from './brake-heat.bench.ts';
import { benchGate, type GateSide } from './gate.bench.ts';
import { benchRules } from './rules.bench.ts';
import { benchCheck, benchCurve } from './rules-bench-curve.ts';
import { benchPeers } from './rules-bench-peers.ts';
import { benchTrial } from './trial.bench.ts';

const GATE_TARGET = 0.8;
const RULES_TARGET = 1;
/** what a rule of 2,000 may cost of what a rule of 120 costs */
const GROWTH_TARGET = 1.15;
const CHECK_TARGET_MS = 1000;
const TRIAL_TARGET_MS = 2000;
const BRAKE_HEAT_TARGET_MS = 20;

const say = (text: string) => process.stdout.write(`${text}\n`);
const load = () => loadavg()[0]?.toFixed(1);

function judge(ratio: number, target: number): boolean {
  const reached = ratio >= target;
  say(`  ratio ${ratio.toFixed(2)}, target ${target}: ${reached ? 'reached' : 'MISSED'}`);
  return reached;
}

/** `npm run bench`: the comparisons, one after the other, and whether each reaches its target. */
async function main(): Promise<void> {
  const [cpu] = cpus();
  say(`${new Date().toISOString()}, ${cpus().length} cores (${cpu?.model ?? 'unknown'}), Node ${process.version}`);
  say(`load of the machine before: ${load()} (on an idle machine the numbers are higher and steadier)`);
  const gateReached = await reportGate();
  const rulesReached = await reportRules();
  const trialReached = await reportTrial();
  const brakeHeatReached = reportBrakeHeat();
  say(`\nload of the machine after: ${load()}`);
  if (!gateReached || !rulesReached || !trialReached || !brakeHeatReached) process.exitCode = 1;
}

async function reportGate(): Promise<boolean> {
  say('\nGate lookup: 200 admitted cars, 50 connections from another process, medians of 5 interleaved rounds;');
  say('the service writes its log at level info to the null device and a row per lookup to the database');
  const sides = await benchGate();
  for (const side of sides) say(lineOf(side));
  const [, ...others] = sides;
  for (const { name, ratio } of others) say(`  service against ${name}: ${ratio.toFixed(2)}`);
  const failed = sides.reduce((sum, side) => sum + side.failed, 0);
  if (failed > 0) say(`  ${failed} requests failed: these numbers do not count`);
  return judge(others[0]?.ratio ?? 0, GATE_TARGET) && failed === 0;
}

function lineOf({ name, perSecond, p50Ms, p99Ms, cpuMicroseconds, rounds }: GateSide): string {
  const rate = `${perSecond.toFixed(0).padStart(6)} req/s`;
  return `  ${name.padEnd(38)} ${rate}  p50 ${p50Ms} ms  p99 ${p99Ms} ms  ${cpuMicroseconds.toFixed(0)} µs CPU  [${rounds.join(' ')}]`;
}

async function reportRules(): Promise<boolean> {
  say('\nJudging a whole inspection: 120 rules, processor time, medians of interleaved rounds');
  let reached = true;
  for (const { name, oursPerSecond, baselinePerSecond, ratio, wallRatio } of await benchRules()) {
    const rates = `${oursPerSecond.toFixed(0)} against ${baselinePerSecond.toFixed(0)} inspections/s`;
    say(`  ${name}: ${rates}; by the clock ${wallRatio.toFixed(2)}`);
    reached = judge(ratio, RULES_TARGET) && reached;
  }
  reportPeers();
  reached = reportCurve() && reached;
  return reportCheck() && reached;
}

function reportPeers(): void {
  const { rules, conditions, oursPerSecond, peers } = benchPeers();
  say(
    `\nBeside evaluators in use elsewhere: ${rules} rules that all can say, ${conditions} conditions a car, processor time`,
  );
  say(`  ours, with whole findings   ${oursPerSecond.toFixed(0).padStart(6)} cars/s`);
  for (const { name, perSecond, ratio } of peers) {
    say(
      `  ${name}, yes or no only`.padEnd(40) + `${perSecond.toFixed(0).padStart(6)} cars/s, ratio ${ratio.toFixed(2)}`,
    );
  }
}

function reportCurve(): boolean {
  say('\nJudging by the number of rules: processor time of one car; beside it closures of as many rules');
  const { points, growth } = benchCurve();
  for (const { rules, microsecondsPerCar, microsecondsPerRule, closuresPerRule, ratio } of points) {
    const perCar = `${microsecondsPerCar.toFixed(0).padStart(6)} µs`;
    const perRule = `${microsecondsPerRule.toFixed(3)} µs per rule`;
    say(
      `  ${String(rules).padStart(5)} rules ${perCar}, ${perRule}; closures ${closuresPerRule.toFixed(3)}, ratio ${ratio.toFixed(2)}`,
    );
  }
  const reached = growth.ours <= GROWTH_TARGET;
  say(
    `  a rule of the most costs ${growth.ours.toFixed(2)} of a rule of the least, closures ${growth.closures.toFixed(2)}`,
  );
  say(`  target at most ${GROWTH_TARGET}: ${reached ? 'reached' : 'MISSED'}`);
  return reached;
}

function reportCheck(): boolean {
  say('\nStatic check of a rule set');
  let reached = true;
  for (const { rules, examples, wallMs, cpuMs } of benchCheck()) {
    say(`  ${rules} rules, ${examples} examples: ${wallMs.toFixed(0)} ms, ${cpuMs.toFixed(0)} ms CPU`);
    reached &&= examples > 0 || wallMs < CHECK_TARGET_MS;
  }
  say(`  without examples, target under ${CHECK_TARGET_MS} ms: ${reached ? 'reached' : 'MISSED'}`);
  return reached;
}

async function reportTrial(): Promise<boolean> {
  const bench = await benchTrial();
  const { declarations, rules, flipped, jobMs, jobRounds, jobCpuMs, judgedMs, loopMs } = bench;
  say(
    `\nTrial of a draft: ${declarations} declarations, ${rules} rules, ${flipped} flips, medians of interleaved rounds`,
  );
  say(
    `  the job in the worker, with the database  ${jobMs.toFixed(0).padStart(6)} ms, ${jobCpuMs.toFixed(0)} ms CPU  [${jobRounds.join(' ')}]`,
  );
  say(`  judged, compared and added up in memory   ${judgedMs.toFixed(0).padStart(6)} ms`);
  say(`  plain loop of evaluate in memory          ${loopMs.toFixed(0).padStart(6)} ms`);
  say(`  in memory against the plain loop: ${(loopMs / judgedMs).toFixed(2)}, the job: ${(loopMs / jobMs).toFixed(2)}`);
  const reached = jobMs < TRIAL_TARGET_MS;
  say(`  worker time ${jobMs.toFixed(0)} ms, target under ${TRIAL_TARGET_MS} ms: ${reached ? 'reached' : 'MISSED'}`);
  return reached;
}

function reportBrakeHeat(): boolean {
  const { laps, steps, requestMs, requestCpuMs, sessionMs, eulerMs, peakC } = benchBrakeHeat();
  say(`\nBrake heat: ${laps} laps of 8 stops, ${steps} steps for each of two rotors, medians of interleaved rounds`);
  say(
    `  one request (converged, with sensitivities) ${requestMs.toFixed(2).padStart(6)} ms, ${requestCpuMs.toFixed(2)} ms CPU`,
  );
  say(
    `  the session followed once                   ${sessionMs.toFixed(2).padStart(6)} ms, peak ${peakC.session.toFixed(1)} °C`,
  );
  say(
    `  plain Euler loop of as many steps           ${eulerMs.toFixed(2).padStart(6)} ms, peak ${peakC.euler.toFixed(1)} °C`,
  );
  say(`  the session against the plain loop: ${(eulerMs / sessionMs).toFixed(2)}`);
  const reached = requestMs < BRAKE_HEAT_TARGET_MS;
  say(`  one request, target under ${BRAKE_HEAT_TARGET_MS} ms: ${reached ? 'reached' : 'MISSED'}`);
  return reached;
}

await main();
