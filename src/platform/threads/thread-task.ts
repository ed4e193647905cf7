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
