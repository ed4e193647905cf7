import { cpus, loadavg } from 'node:os';
import type pg from 'pg';
import { check, type Checked } from './check.ts';
import { askGate, startWorkload } from './clients.ts';
import { startEmbedded } from './embedded.ts';
import { type Field, setUpField } from './field.ts';
import { newRecord, type Recorded } from './history.ts';
import { CREW, describeFault, type Fault, kindsOf, type Mode, planHash, planRounds, type Round } from './plan.ts';
import { startProcesses } from './processes.ts';
import { closeAtSignal } from './at-signal.ts';
import { newCaller, pause } from './request.ts';
import { settle } from './settle.ts';
import { becomesWell, FAILED_LINE, GIVEN_UP_LINE, ORGANIZER, type System, TOLD_LINE, withDatabase } from './system.ts';
import { readTruth } from './truth.ts';

export interface FaultRun {
  seed: number;
  rounds: number;
  mode: Mode;
  /** so many sign-offs are tried before anything goes wrong; 8 unless told */
  calmSignOffs?: number;
  /** modules loaded into the server first, to break it; embedded mode only */
  imports?: readonly string[];
  /** done to the database before the work begins */
  prepare?: (client: pg.Client) => Promise<unknown>;
  /** how long everything that is due may take to get done at the end */
  settleMs?: number;
  /** hears a line for each round */
  say?: (line: string) => void;
}

export interface FaultReport extends Checked {
  seed: number;
  mode: Mode;
  rounds: number;
  faults: readonly Fault[];
  /** equal for equal seeds on machines that can do the same */
  schedule: string;
  skipped: readonly string[];
  statuses: ReadonlyMap<number, number>;
  seconds: number;
}

/** On a machine that does nothing else. On another, everything takes as much longer as there is to do for each core. */
const RECOVERY_MS = 30_000;
const SETTLE_MS = 90_000;
const CALM_MS = 60_000;
const CALM_SIGN_OFFS = 8;

/** Starts the service, lets everybody work while things go wrong, and checks what came of it. */
export async function runFaults(run: FaultRun): Promise<FaultReport> {
  const startedAt = performance.now();
  const record = newRecord();
  const starting = run.mode === 'processes' ? startProcesses(record) : startEmbedded(record, run.imports);
  const guard = closeAtSignal(async () => (await starting).close());
  try {
    const system = await starting;
    if (!(await becomesWell(system, 60_000))) throw new Error('the system did not start');
    if (run.prepare !== undefined) await withDatabase(await system.databaseUrl(), run.prepare);
    const field = await setUpField(system.bases, ORGANIZER, CREW);
    const rounds = planRounds(run.seed, run.rounds, run.mode, system.abilities);
    const trouble = await work(run, { system, record, field, rounds });
    const checked = await judge(run, { system, record, field });
    const violations = [
      ...trouble.map((what) => ({ promise: 'system recovers', what }) as const),
      ...checked.violations,
    ];
    return {
      ...checked,
      violations,
      seed: run.seed,
      mode: run.mode,
      rounds: rounds.length,
      faults: rounds.flatMap((round) => round.faults),
      schedule: planHash(run.seed, rounds, CREW),
      skipped: system.skipped,
      statuses: record.statuses,
      seconds: Math.round((performance.now() - startedAt) / 1000),
    };
  } finally {
    await guard.close();
  }
}

interface Scene {
  system: System;
  record: Recorded;
  field: Field;
}

/** The rounds, with everybody at work; returns what did not recover. */
async function work(run: FaultRun, { system, record, field, rounds }: Scene & { rounds: readonly Round[] }) {
  const trouble: string[] = [];
  const workload = startWorkload(field, run.seed, record);
  await pause(500);
  await untilSignOffs(record, run.calmSignOffs ?? CALM_SIGN_OFFS);
  for (const [place, { quietMs, faults }] of rounds.entries()) {
    await pause(quietMs);
    const from = performance.now();
    await Promise.all(faults.map((fault) => system.inject(fault)));
    // A process that ends because of it needs a moment to do so.
    await pause(200);
    const patience = RECOVERY_MS * crowding();
    const well = await becomesWell(system, patience);
    const told = faults.map(describeFault).join(' + ');
    if (!well) trouble.push(`not well ${Math.round(patience)} ms after ${told}`);
    run.say?.(
      `  ${place + 1}. ${told}: ${well ? 'well' : 'NOT WELL'} after ${Math.round(performance.now() - from)} ms`,
    );
  }
  await workload.stop();
  return trouble;
}

const crowding = () => Math.max(1, (loadavg()[0] ?? 0) / cpus().length);

async function untilSignOffs(record: Recorded, count: number): Promise<void> {
  const deadline = performance.now() + CALM_MS;
  const tried = () => record.operations.filter(({ kind }) => kind === 'sign-off').length;
  while (tried() < count && performance.now() < deadline) await pause(50);
}

async function judge(run: FaultRun, { system, record, field }: Scene): Promise<Checked> {
  const { workEnded, complaints } = await settle(system, {
    forMs: run.settleMs ?? SETTLE_MS,
    forgetful: run.rounds > 0,
  });
  const url = await system.databaseUrl();
  const before = await withDatabase(url, (client) => readTruth(client, workEnded));
  // At rest there is one right answer for each car.
  const caller = newCaller(system.bases, 0, record);
  const token = field.crew.marshals[0]?.token ?? '';
  for (const car of field.cars) await askGate({ caller, record }, { eventId: field.eventId, car, token });
  const truth = { ...(await withDatabase(url, (client) => readTruth(client, workEnded))), readAt: before.readAt };
  const told = system.members.flatMap((member) => member.linesWith(TOLD_LINE)).map(toldKey);
  const checked = check(record, truth, told);
  // Whatever is broken outside, a caller must be told to come back; 500 is for mistakes of ours.
  const failed = [...failuresOf(system)].map(([error, times]) => ({
    promise: 'no absurd answer' as const,
    what: `500, ${times} times: ${error}`,
  }));
  const unwell = [...complaints, ...system.complaints()].map((what) => ({ promise: 'system recovers', what }) as const);
  const givenUp = system.members
    .flatMap((member) => member.linesWith(GIVEN_UP_LINE))
    .map((line) => ({
      promise: 'outbox row is done at least once' as const,
      what: `given up: ${JSON.stringify(line)}`,
    }));
  return { ...checked, violations: [...unwell, ...failed, ...givenUp, ...checked.violations] };
}

function toldKey(line: Record<string, unknown>): string {
  const { kind, id, inspectionId, signOffId } = line;
  return `${String(kind)}/${String(id ?? inspectionId ?? signOffId)}`;
}

function failuresOf(system: System): Map<string, number> {
  const failures = new Map<string, number>();
  for (const line of system.members.flatMap((member) => member.linesWith(FAILED_LINE))) {
    const { message = '', code = '' } = (line['error'] ?? {}) as { message?: string; code?: string };
    const text = `${code} ${message}`.replace(/\s+/g, ' ').trim().slice(0, 200);
    failures.set(text, (failures.get(text) ?? 0) + 1);
  }
  return failures;
}

/** One line with the numbers of a run. */
export function summary(report: FaultReport): string {
  const { counts } = report;
  return [
    `faults (${report.mode}): ${report.rounds} rounds with ${report.faults.length} faults (${kindsOf(report.faults)})`,
    `${counts['operations']} operations (${counts['acknowledged']} acknowledged, ${counts['refused']} refused, ${counts['unknown']} unknown)`,
    `${counts['lookups']} lookups (${counts['admitted']} admitted, ${counts['unanswered']} unanswered)`,
    `${counts['outboxRows']} outbox rows`,
    `${report.violations.length} violations`,
    `${report.harmfulStaleReads} harmful stale reads`,
    `${report.seconds} s, seed ${report.seed}, schedule ${report.schedule}`,
  ].join(', ');
}
