import { readlinkSync } from 'node:fs';
import { setPriority } from 'node:os';
import { parentPort, Worker, workerData } from 'node:worker_threads';
import { readFile } from 'node:fs/promises';
import type { Logger } from '../logger.ts';

/** One kind of work that threads do. Both sides know it by this definition; it is run on the threads' side only. */
export interface ThreadTask<I, O> {
  /** `noun.verb`, unique among the tasks of a thread */
  name: string;
  /** processor time after which it is ended, in milliseconds; a busy machine takes nothing of it */
  processorMs: number;
  /** time by the clock after which it is ended */
  clockMs: number;
  /** gets a copy of what was sent, and what it returns is copied back */
  run(input: I): O | Promise<O>;
}

export const defineThreadTask = <I, O>(task: ThreadTask<I, O>): ThreadTask<I, O> => task;

/** What is sent into a thread. */
interface TaskMessage {
  name: string;
  input: unknown;
}

/** What comes back. */
type ThreadMessage =
  | { kind: 'up'; threadId: number | undefined }
  | { kind: 'done'; value: unknown }
  | { kind: 'failed'; message: string; stack: string | undefined };

/** Runs tasks in this thread as they are sent, one at a time. Call it once, in the module that a thread is started with. */
export function serveTasks(tasks: readonly ThreadTask<unknown, unknown>[]): void {
  if (parentPort === null) throw new Error('this module is for a thread, and was loaded without one');
  const port = parentPort;
  const byName = new Map(tasks.map((task) => [task.name, task]));
  const say = (message: ThreadMessage) => port.postMessage(message);
  port.on('message', ({ name, input }: TaskMessage) => {
    void runTask(byName.get(name), input).then(
      (value) => say({ kind: 'done', value }),
      (error: unknown) => {
        const { message, stack } = error instanceof Error ? error : new Error(String(error));
        say({ kind: 'failed', message, stack });
      },
    );
  });
  say({ kind: 'up', threadId: takePlace() });
}

async function runTask(task: ThreadTask<unknown, unknown> | undefined, input: unknown): Promise<unknown> {
  if (task === undefined) throw new Error('this thread knows no such task');
  return task.run(input);
}

/** Lets others go first, and says by which number the system counts this thread; undefined where it counts processes. */
function takePlace(): number | undefined {
  // Elsewhere the priority would be that of the whole process.
  if (process.platform !== 'linux') return undefined;
  const { niceness } = workerData as { niceness: number };
  try {
    if (niceness > 0) setPriority(0, niceness);
    return Number(readlinkSync('/proc/thread-self').split('/').at(-1));
  } catch {
    // A system without it lets the thread run as it is, and its time is taken by the clock.
    return undefined;
  }
}

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
