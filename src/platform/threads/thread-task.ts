import { readlinkSync } from 'node:fs';
import { setPriority } from 'node:os';
import { parentPort, workerData } from 'node:worker_threads';

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
export interface TaskMessage {
  name: string;
  input: unknown;
}

/** What comes back. */
export type ThreadMessage =
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
    void run(byName.get(name), input).then(
      (value) => say({ kind: 'done', value }),
      (error: unknown) => {
        const { message, stack } = error instanceof Error ? error : new Error(String(error));
        say({ kind: 'failed', message, stack });
      },
    );
  });
  say({ kind: 'up', threadId: takePlace() });
}

async function run(task: ThreadTask<unknown, unknown> | undefined, input: unknown): Promise<unknown> {
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
