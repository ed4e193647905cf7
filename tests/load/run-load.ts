import { chmod, mkdtemp, readFile, rm } from 'node:fs/promises';
import { setMaxListeners } from 'node:events';
import { loadavg, tmpdir } from 'node:os';
import { join } from 'node:path';
import { monitorEventLoopDelay } from 'node:perf_hooks';
import { findPostgresIn } from '../../src/platform/database/server-lock.ts';
import { closeAtSignal } from '../faults/at-signal.ts';
import { signalAll } from '../faults/database.ts';
import { type Member, startMember } from '../faults/member.ts';
import { READY_LINE } from '../faults/system.ts';
import { freePort } from '../support/redis.ts';
import { waitFor } from '../support/wait.ts';
import { crowdIn, type Pace } from './crowd.ts';
import { type Client, openClient } from './http-client.ts';
import { KINDS, line, type Measures, newMeasures } from './measures.ts';
import { type Paddock, type Size, stagePaddock } from './paddock.ts';

export interface Phase {
  name: string;
  seconds: number;
  pace: Pace;
}

export interface PhaseReport {
  name: string;
  measures: Measures;
  /** resident memory of the server: the most of it, and at the end (MiB); 0 where the system does not tell */
  peakMiB: number;
  endMiB: number;
  /** processor time that server and database took, in seconds */
  serverCpu: number;
  databaseCpu: number;
  /** how late the crowd itself was, p99 in milliseconds: what it measures is not finer than that */
  crowdLateMs: number;
  /** from the end of the demand until what may be refused (a plain read) was answered again, in milliseconds */
  recoveredMs: number;
  /** load of the machine at the end of the phase, one minute */
  load: number;
}

const ORGANIZER = 'organizer-token-of-the-load-harness';
const BREATH_MS = 1000;
const RECOVERY_MS = 60_000;

/**
 * Everybody at work at once: each entrant sends twice a minute (200: 6.7 a second), each inspector takes a car every
 * 10 s, ten marshals ask 50 times a second together. More than any event has, where entrants send over a week.
 */
export const NORMAL: Pace = { submitEveryMs: 30_000, inspectEveryMs: 10_000, lookupEveryMs: 200 };
/** The same with 50 lookups a second of each marshal. */
export const RUSH: Pace = { ...NORMAL, lookupEveryMs: 20 };
/** Ten times the normal of everything. */
export const OVERLOAD: Pace = { submitEveryMs: 3000, inspectEveryMs: 1000, lookupEveryMs: 20 };
export const CROWD: Size = { entrants: 200, inspectors: 20, marshals: 10 };

/**
 * Starts the service as a club runs it (one process with its database), stages an event, and lets the crowd in, phase
 * after phase. `env` adds to the settings; the rate limit of one caller is out of the way, since a marshal here is as
 * fast as no person is.
 */
export async function runLoad(options: {
  size: Size;
  phases: readonly Phase[];
  env?: Record<string, string>;
  say?: (line: string) => void;
}): Promise<PhaseReport[]> {
  const folder = await mkdtemp(join(tmpdir(), 'gridworthy-load-'));
  await chmod(folder, 0o711);
  const port = await freePort();
  const dataDir = join(folder, 'data');
  const env = { PORT: String(port), DATA_DIR: dataDir, ORGANIZER_TOKEN: ORGANIZER, RATE_LIMIT_PER_MINUTE: '100000' };
  const server = startMember({ name: 'server', env: { ...env, ...options.env }, ready: READY_LINE, keep: [] });
  const base = `http://127.0.0.1:${port}`;
  const client = openClient(base);
  const guard = closeAtSignal(async () => {
    client.close();
    await server.close();
    const left = () => findPostgresIn(join(dataDir, 'postgres'));
    signalAll(left(), 'SIGKILL');
    await waitFor('the database to end', () => left().length === 0);
    await rm(folder, { recursive: true, force: true });
  });
  try {
    await waitFor('the server', () => server.isReady(), 60_000);
    const paddock = await stagePaddock(base, ORGANIZER, options.size);
    options.say?.(
      `staged: ${Object.entries(options.size)
        .map(([who, count]) => `${count} ${who}`)
        .join(', ')}`,
    );
    const reports: PhaseReport[] = [];
    for (const phase of options.phases) {
      const database = () => findPostgresIn(join(dataDir, 'postgres'));
      const report = await runPhase(phase, { client, paddock, server, database });
      for (const text of describe(phase, report)) options.say?.(text);
      reports.push(report);
      // What the last phase left has been answered; the server looks at its own state four times a second.
      await new Promise((resolve) => setTimeout(resolve, BREATH_MS));
    }
    return reports;
  } finally {
    await guard.close();
  }
}

async function runPhase(
  { name, seconds, pace }: Phase,
  { client, paddock, server, database }: { client: Client; paddock: Paddock; server: Member; database(): number[] },
): Promise<PhaseReport> {
  const measures = newMeasures();
  const cpu = () => Promise.all([cpuSeconds([server.pid()]), cpuSeconds(database())]);
  const [serverBefore, databaseBefore] = await cpu();
  const ending = new AbortController();
  setMaxListeners(0, ending.signal);
  const late = monitorEventLoopDelay({ resolution: 10 });
  late.enable();
  let peakMiB = 0;
  const watching = setInterval(() => {
    void residentMiB(server.pid()).then((now) => (peakMiB = Math.max(peakMiB, now)));
  }, 250);
  let recovering: Promise<number> | undefined;
  const timer = setTimeout(() => {
    ending.abort();
    recovering = servedAgain(client, paddock);
  }, seconds * 1000);
  await crowdIn({ client, paddock, pace, measures, signal: ending.signal });
  clearTimeout(timer);
  const recoveredMs = (await recovering) ?? 0;
  clearInterval(watching);
  const crowdLateMs = Math.max(0, late.percentile(99) / 1e6 - 10);
  const [serverAfter, databaseAfter] = await cpu();
  return {
    name,
    measures,
    peakMiB,
    endMiB: await residentMiB(server.pid()),
    serverCpu: serverAfter - serverBefore,
    databaseCpu: databaseAfter - databaseBefore,
    crowdLateMs,
    recoveredMs,
    load: loadavg()[0] ?? 0,
  };
}

/** How long it takes until the server answers a read that it refuses while too much is asked of it. */
async function servedAgain(client: Client, { eventId, marshals }: Paddock): Promise<number> {
  const from = performance.now();
  const call = { method: 'GET', path: `/v1/events/${eventId}`, token: marshals[0] ?? '' } as const;
  while (performance.now() - from < RECOVERY_MS) {
    const { status } = await client.ask(call);
    if (status === 200) return performance.now() - from;
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
  return Infinity;
}

// A process that ends takes its time with it; connections are kept, so that is next to nothing.
async function cpuSeconds(pids: readonly number[]): Promise<number> {
  let ticks = 0;
  for (const pid of pids) {
    const text = await readFile(`/proc/${pid}/stat`, 'utf8').catch(() => '');
    const fields = text.replace(/^.*\) /s, '').split(' ');
    ticks += Number(fields[11] ?? 0) + Number(fields[12] ?? 0);
  }
  // Linux counts in hundredths of a second wherever Node.js runs.
  return ticks / 100;
}

async function residentMiB(pid: number): Promise<number> {
  const text = await readFile(`/proc/${pid}/status`, 'utf8').catch(() => '');
  return Math.round(Number(/^VmRSS:\s+(\d+) kB$/m.exec(text)?.[1] ?? 0) / 1024);
}

function describe(phase: Phase, report: PhaseReport): string[] {
  const { measures, peakMiB, endMiB, crowdLateMs, recoveredMs, load, serverCpu, databaseCpu } = report;
  return [
    `${phase.name}, ${phase.seconds} s; load of the machine ${load.toFixed(1)}, the crowd itself late by p99 ${Math.round(crowdLateMs)} ms`,
    ...KINDS.map((kind) => line(kind, measures.of(kind))),
    `  memory of the server: at most ${peakMiB} MiB, ${endMiB} MiB at the end`,
    `  served again ${Math.round(recoveredMs)} ms after the demand ended`,
    `  processor time: server ${serverCpu.toFixed(1)} s, database ${databaseCpu.toFixed(1)} s`,
    ...[...measures.failures].map(([what, count]) => `  FAILED ${count} times: ${what}`),
  ];
}
