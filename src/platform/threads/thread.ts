import { readFile } from 'node:fs/promises';
import { Worker } from 'node:worker_threads';
import type { Logger } from '../logger.ts';
import type { TaskMessage, ThreadMessage, ThreadTask } from './thread-task.ts';

/** Time since a task began, in milliseconds. */
interface Spent {
  /** by the clock where the system does not tell */
  processorMs: number;
  clockMs: number;
}

const LOOK_EVERY_MS = 50;
const NS_PER_MS = 1_000_000;

/**
 * Watches what a task uses, from when its thread is up: what it takes to start is not the task's.
 *
 * @param upOf the thread once it is up, with its number where the system counts threads
 * @returns ends the watch
 */
function watchTime(
  upOf: () => { threadId: number | undefined } | undefined,
  limits: Pick<ThreadTask<unknown, unknown>, 'processorMs' | 'clockMs'>,
  onLimit: (spent: Spent) => void,
): () => void {
  let since = { at: performance.now(), used: undefined as number | undefined, isUp: false };
  let isOver = false;
  const look = async () => {
    const up = upOf();
    const used = await processorMs(up?.threadId);
    const at = performance.now();
    if (up !== undefined && !since.isUp) since = { at, used, isUp: true };
    const spent = spentSince(since, { at, used });
    if (isOver || (spent.processorMs < limits.processorMs && spent.clockMs < limits.clockMs)) return;
    isOver = true;
    onLimit(spent);
  };
  const timer = setInterval(() => void look(), LOOK_EVERY_MS);
  void look();
  return () => {
    isOver = true;
    clearInterval(timer);
  };
}

function spentSince(
  since: { at: number; used: number | undefined; isUp: boolean },
  now: { at: number; used: number | undefined },
): Spent {
  const clockMs = Math.round(now.at - since.at);
  if (!since.isUp) return { processorMs: 0, clockMs };
  const isTold = since.used !== undefined && now.used !== undefined;
  return { processorMs: isTold ? Math.round(Number(now.used) - Number(since.used)) : clockMs, clockMs };
}

/** Processor time of a thread so far; undefined where the system does not tell. */
async function processorMs(threadId: number | undefined): Promise<number | undefined> {
  if (threadId === undefined) return undefined;
  const text = await readFile(`/proc/self/task/${threadId}/schedstat`, 'utf8').catch(() => '');
  const nanoseconds = Number.parseInt(text, 10);
  return Number.isNaN(nanoseconds) ? undefined : nanoseconds / NS_PER_MS;
}

/** Thrown when a task used up what it may use; its thread was ended. */
export class TooHeavy extends Error {
  readonly of: 'time' | 'memory';
  constructor(of: 'time' | 'memory', task: string) {
    super(`${task} used up its ${of}`);
    this.of = of;
  }
}

/** A thread that does one piece of work at a time. */
export interface Thread {
  isUp(): boolean;
  /** Ends with the thread when the task uses up its time or its memory. */
  run(task: ThreadTask<unknown, unknown>, input: unknown): Promise<unknown>;
  end(): Promise<void>;
}

interface Options {
  file: URL;
  niceness: number;
  memoryMb: number;
  log: Logger;
  /** the thread is gone, whoever ended it */
  onEnd(): void;
}

interface Running {
  task: ThreadTask<unknown, unknown>;
  resolve(value: unknown): void;
  reject(error: Error): void;
  /** ends the watch of its time */
  unwatch(): void;
}

interface Life {
  worker: Worker;
  /** set once the thread is ready; its number where the system counts threads */
  up: { threadId: number | undefined } | undefined;
  running: Running | undefined;
  /** Takes the thread out of use. Before whoever waits is told, so that nobody gets a thread that is going. */
  leave(): void;
}

/** Starts a thread. While it has nothing to do it does not keep the process alive. */
export function startThread({ file, niceness, memoryMb, log, onEnd }: Options): Thread {
  const worker = new Worker(file, {
    workerData: { niceness },
    // Nothing that a thread is given may come from elsewhere than its input.
    env: {},
    execArgv: ['--enable-source-maps'],
    resourceLimits: { maxOldGenerationSizeMb: memoryMb },
  });
  worker.unref();
  let isOver = false;
  const leave = () => {
    if (!isOver) onEnd();
    isOver = true;
  };
  const life: Life = { worker, up: undefined, running: undefined, leave };
  listen(life, log);
  return {
    isUp: () => life.up !== undefined,
    run: (task, input) => run(life, task, input, log),
    async end() {
      await worker.terminate();
    },
  };
}

function listen(life: Life, log: Logger): void {
  const { worker, leave } = life;
  worker.on('message', (message: ThreadMessage) => {
    if (message.kind === 'up') life.up = { threadId: message.threadId };
    else if (message.kind === 'done') settle(life, ({ resolve }) => resolve(message.value));
    else settle(life, ({ reject }) => reject(Object.assign(new Error(message.message), { stack: message.stack })));
  });
  worker.on('error', (error: Error & { code?: string }) => {
    const isMemory = error.code === 'ERR_WORKER_OUT_OF_MEMORY';
    log.warn({ task: life.running?.task.name, error }, 'thread failed');
    leave();
    settle(life, ({ task, reject }) => reject(isMemory ? new TooHeavy('memory', task.name) : error));
  });
  worker.on('exit', () => {
    leave();
    settle(life, ({ reject }) => reject(new Error('the thread ended')));
  });
}

function settle(life: Life, how: (of: Running) => void): void {
  const { running } = life;
  if (running === undefined) return;
  life.running = undefined;
  running.unwatch();
  life.worker.unref();
  how(running);
}

function run(life: Life, task: ThreadTask<unknown, unknown>, input: unknown, log: Logger): Promise<unknown> {
  const { worker } = life;
  return new Promise((resolve, reject) => {
    const onLimit = (spent: Spent) => {
      log.warn({ task: task.name, ...spent }, 'task ended at its limit');
      life.leave();
      settle(life, (of) => of.reject(new TooHeavy('time', task.name)));
      void worker.terminate();
    };
    life.running = { task, resolve, reject, unwatch: watchTime(() => life.up, task, onLimit) };
    worker.ref();
    const message: TaskMessage = { name: task.name, input };
    // oxlint-disable-next-line unicorn/require-post-message-target-origin -- that is about windows
    worker.postMessage(message);
  });
}
