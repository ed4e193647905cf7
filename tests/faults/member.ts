import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { dirname, join } from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import { pause } from './request.ts';

export const ROOT = dirname(dirname(dirname(fileURLToPath(import.meta.url))));

/** The built server; `GRIDWORTHY_DIST` names a build elsewhere. */
const entry = () => join(process.env['GRIDWORTHY_DIST'] ?? join(ROOT, 'dist'), 'src/server.js');

/** One process of the service under a supervisor: what ends is started again, whatever ended it. */
export interface Member {
  name: string;
  pid(): number;
  /** sends a signal to the process as it is now */
  signal(signal: NodeJS.Signals): void;
  /** ends the process and keeps it down until `start`; gives the exit code */
  end(signal: NodeJS.Signals): Promise<number | null>;
  start(): void;
  /** whether it has said that it is ready since its last start */
  isReady(): boolean;
  /** every line of its log with this message, over all starts */
  linesWith(message: string): Record<string, unknown>[];
  /** each time that it ended by itself although it was ready */
  selfEnded(): readonly string[];
  /** ends it for good: no fault that is still under way starts it again */
  close(): Promise<void>;
}

export interface MemberOptions {
  name: string;
  env: Record<string, string>;
  /** the message with which the log says that it is ready */
  ready: string;
  /** messages whose lines are kept */
  keep: readonly string[];
  /** modules that are loaded before the server */
  imports?: readonly string[];
}

const RESTART_AFTER_MS = 200;
const LAST_LINES = 20;

/** Starts a process of the service and keeps it up. */
export function startMember(options: MemberOptions): Member {
  const kept: Record<string, unknown>[] = [];
  const selfEnded: string[] = [];
  let wanted = true;
  let closed = false;
  let ready = false;
  let child: ChildProcess;
  let ended: Promise<unknown>;
  const run = () => {
    ready = false;
    const last: string[] = [];
    child = launch(options, (line) => {
      last.push(line);
      if (last.length > LAST_LINES) last.shift();
      if (line.includes(`"msg":"${options.ready}"`)) ready = true;
      if (options.keep.some((message) => line.includes(`"msg":"${message}"`))) kept.push(JSON.parse(line) as never);
    });
    const me = child;
    ended = once(me, 'close').then(async () => {
      if (!wanted || me !== child) return;
      if (ready)
        selfEnded.push(`${options.name} ended by itself (${me.exitCode ?? me.signalCode}): ${last.join(' | ')}`);
      ready = false;
      await pause(RESTART_AFTER_MS);
      if (wanted && me === child) run();
    });
  };
  run();
  return {
    name: options.name,
    pid: () => child.pid ?? 0,
    signal: (signal) => void child.kill(signal),
    async end(signal) {
      wanted = false;
      const me = child;
      if (me.exitCode === null && me.signalCode === null) me.kill(signal);
      await ended;
      ready = false;
      return me.exitCode;
    },
    start() {
      if (wanted || closed) return;
      wanted = true;
      run();
    },
    isReady: () => ready,
    linesWith: (message) => kept.filter((line) => line['msg'] === message),
    selfEnded: () => selfEnded,
    async close() {
      closed = true;
      wanted = false;
      child.kill('SIGCONT');
      child.kill('SIGKILL');
      await ended;
    },
  };
}

function launch({ env, imports = [] }: MemberOptions, hear: (line: string) => void): ChildProcess {
  const args = [...imports.flatMap((module) => ['--import', module]), entry()];
  const child = spawn(process.execPath, args, {
    cwd: ROOT,
    env: { PATH: process.env['PATH'], ...env },
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  for (const stream of [child.stdout, child.stderr]) createInterface({ input: stream }).on('line', hear);
  return child;
}
