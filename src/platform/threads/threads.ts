import type { Logger } from '../logger.ts';
import { startThread, type Thread, type ThreadTask } from './thread.ts';

/** Thrown when nobody's work gets its turn soon: too much waits. It may be sent again in a moment. */
export class ThreadsBusy extends Error {}

/** Thrown when one caller has as much work here as one caller may. Others are not touched. */
export class CallerBusy extends Error {}

/** Whose work it is, and how urgent: 0 goes first. */
export interface Asked {
  caller: string;
  urgency: number;
}

/** Threads beside the one that answers requests: for work that is long, or that a stranger can make long. */
export interface Threads {
  /**
   * Runs a task in a thread; input and answer are copied.
   *
   * @throws ThreadsBusy, CallerBusy, TooHeavy (it used up its time or its memory, and its thread was ended), Error with
   *   the message of what the task itself threw
   */
  run<I, O>(task: ThreadTask<I, O>, input: I, asked: Asked): Promise<O>;
  /** Ends all threads; work that is under way or waits is rejected as `ThreadsBusy`: it may be sent again, elsewhere. */
  stop(): Promise<void>;
}

export interface ThreadOptions {
  /** compiled module that calls `serveTasks` */
  file: URL;
  log: Logger;
  atOnce?: number;
  /** added to the niceness of the process, where threads have one of their own (Linux) */
  niceness?: number;
  memoryMb?: number;
  /** how much may wait, of all callers together */
  waiting?: number;
  /** how much one caller may have here, running and waiting */
  perCaller?: number;
  /** how long work waits for its turn */
  waitMs?: number;
}

const DEFAULTS = { atOnce: 1, niceness: 5, memoryMb: 384, waiting: 16, perCaller: 4, waitMs: 1000 };

interface Job extends Turn {
  task: ThreadTask<unknown, unknown>;
  input: unknown;
  resolve(value: unknown): void;
  reject(error: Error): void;
  timer?: NodeJS.Timeout;
}

interface Pool {
  limits: Required<ThreadOptions>;
  queue: Job[];
  threads: Thread[];
  running: Map<Thread, Job>;
  /** when each caller was last served */
  served: Map<string, number>;
  isStopping: boolean;
}

/** Opens the threads of one kind of work. None is started before there is work for it. */
export function openThreads(options: ThreadOptions): Threads {
  const limits = { ...DEFAULTS, ...options };
  const pool: Pool = { limits, queue: [], threads: [], running: new Map(), served: new Map(), isStopping: false };
  return {
    run<I, O>(task: ThreadTask<I, O>, input: I, asked: Asked): Promise<O> {
      const refusal = refusalFor(pool, asked.caller);
      if (refusal !== undefined) return Promise.reject(refusal);
      return new Promise<O>((resolve, reject) => {
        // What comes back is what this very task gave.
        const job: Job = { task, input, ...asked, resolve: (value) => resolve(value as O), reject };
        job.timer = setTimeout(() => giveUp(pool, job), limits.waitMs);
        pool.queue.push(job);
        pump(pool);
      });
    },
    async stop() {
      pool.isStopping = true;
      for (const job of pool.queue.splice(0)) {
        clearTimeout(job.timer);
        job.reject(new ThreadsBusy('the threads are being ended'));
      }
      await Promise.all(pool.threads.map((thread) => thread.end()));
    },
  };
}

function refusalFor({ limits, queue, running, isStopping }: Pool, caller: string): Error | undefined {
  if (isStopping) return new ThreadsBusy('the threads are being ended');
  const own = [...queue, ...running.values()].filter((job) => job.caller === caller);
  if (own.length >= limits.perCaller) return new CallerBusy('this caller has work here already');
  return queue.length >= limits.waiting ? new ThreadsBusy('too much waits') : undefined;
}

function idleThread({ limits, threads, running }: Pool): Thread | undefined {
  const idle = threads.find((thread) => !running.has(thread));
  if (idle !== undefined || threads.length >= limits.atOnce) return idle;
  const thread = startThread({ ...limits, onEnd: () => threads.splice(threads.indexOf(thread), 1) });
  threads.push(thread);
  return thread;
}

function pump(pool: Pool): void {
  const { queue, running, served } = pool;
  while (queue.length > 0) {
    const thread = idleThread(pool);
    if (thread === undefined) return;
    start(pool, thread, takeNext(queue, served));
  }
  if (running.size === 0) served.clear();
}

function start(pool: Pool, thread: Thread, job: Job): void {
  clearTimeout(job.timer);
  pool.running.set(thread, job);
  // The thread is free before its caller is told: he may ask again at once.
  const free = () => {
    pool.running.delete(thread);
    pump(pool);
  };
  const fail = (error: Error) => job.reject(pool.isStopping ? new ThreadsBusy('the threads are being ended') : error);
  void thread.run(job.task, job.input).finally(free).then(job.resolve, fail);
}

function giveUp(pool: Pool, job: Job): void {
  const { queue, threads, limits } = pool;
  // While a thread is being started nobody is served, whatever is asked.
  if (threads.some((thread) => !thread.isUp())) {
    job.timer = setTimeout(() => giveUp(pool, job), limits.waitMs);
    return;
  }
  const at = queue.indexOf(job);
  if (at === -1) return;
  queue.splice(at, 1);
  job.reject(new ThreadsBusy('the work did not get its turn'));
}

/** Work that waits for its turn. */
interface Turn {
  caller: string;
  /** 0 goes first */
  urgency: number;
}

/**
 * Takes the work whose turn it is: the most urgent, among those that of the caller who was served longest ago, so that
 * whoever has much waiting is not served more often than whoever has little.
 *
 * @param queue in the order of coming, not empty
 * @param served when each caller was last served; is told
 */
export function takeNext<T extends Turn>(queue: T[], served: Map<string, number>): T {
  const lastOf = ({ caller }: T) => served.get(caller) ?? 0;
  const isBefore = (one: T, other: T) =>
    one.urgency === other.urgency ? lastOf(one) < lastOf(other) : one.urgency < other.urgency;
  let next = 0;
  for (const [at, turn] of queue.entries()) {
    const first = queue[next];
    if (first !== undefined && isBefore(turn, first)) next = at;
  }
  const [taken] = queue.splice(next, 1);
  if (taken === undefined) throw new Error('nothing waits');
  served.set(taken.caller, Math.max(0, ...served.values()) + 1);
  return taken;
}
