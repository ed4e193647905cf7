import { type ReadonlySignal, signal } from '@preact/signals';
import { v7 as newId } from 'uuid';
import type { ApiProblem } from '../../api/call.ts';
import { type LogEntryInput, writeLog, type WrittenLog } from '../../api/operations.ts';
import { dropUnsent, keepUnsent, listUnsent, type Refused, sendOne, sendUnsent } from '../../shared/outbox.ts';
import type { Sending, Settled, Unsent } from '../../shared/outbox.ts';
import type { Session } from '../../shared/session.ts';

/** Between two tries to send. */
const RETRY_MS = 4000;

/** What was written down after a session and is not with the server yet. */
export interface WaitingLog {
  /** its Idempotency-Key */
  key: string;
  body: LogEntryInput;
  /** why the server does not take it: it stays until a person has read it */
  refused: string | undefined;
}

/** What is written down after sessions on this device, kept until the server has it. */
export interface Logs {
  /** oldest first */
  waiting: ReadonlySignal<readonly WaitingLog[]>;
  /** what the server said of those that it took since the page was opened, newest last */
  answers: ReadonlySignal<readonly WrittenLog[]>;
  /** Keeps entries and sends them. They are in `waiting` when this returns. */
  write(bodies: readonly LogEntryInput[]): void;
  /** a person has read why it was refused */
  forget(key: string): Promise<void>;
  /** again and again, until the signal */
  keepSending(until: AbortSignal): void;
}

const waitingOf = ({ key, input, refused }: Unsent): WaitingLog => ({
  key,
  // written by `itemOf` only
  body: input.body as LogEntryInput,
  refused,
});

/** The queue of one entry's log. */
export function openLogs({ entryId, session }: { entryId: string; session: Session }): Logs {
  const queue = `garage-log ${entryId}`;
  const waiting = signal<readonly WaitingLog[]>([]);
  const answers = signal<readonly WrittenLog[]>([]);
  // What the device could not keep is held here, and sent all the same.
  const loose = new Map<string, Unsent>();
  let kept: readonly Unsent[] = [];
  const publish = (): void => {
    const others = [...loose.values()].filter(({ key }) => kept.every((one) => one.key !== key));
    waiting.value = [...kept, ...others].map(waitingOf);
  };
  const reread = async (): Promise<void> => {
    kept = await listUnsent(queue).catch(() => kept);
    publish();
  };
  const sending = sendingTo(session.token, (written) => {
    answers.value = [...answers.value, written];
  });
  const send = async (): Promise<void> => {
    await sendUnsent(queue, sending).catch(() => undefined);
    for (const item of loose.values()) {
      const result = await sendOne(item, sending);
      if (result === 'sent') loose.delete(item.key);
      else if (typeof result === 'object') loose.set(item.key, { ...item, ...result });
    }
    await reread();
  };
  return {
    waiting,
    answers,
    write: (bodies) => {
      const items = bodies.map((body) => itemOf(queue, entryId, body));
      for (const item of items) loose.set(item.key, item);
      publish();
      void keepAll(items, loose).then(send);
    },
    forget: async (key) => {
      loose.delete(key);
      await dropUnsent(key).catch(() => undefined);
      await reread();
    },
    keepSending: (until) => {
      const round = (): void => {
        if (until.aborted) return;
        const next = (): unknown => setTimeout(round, RETRY_MS);
        void reread()
          .then(() => (waiting.value.some(({ refused }) => refused === undefined) ? send() : undefined))
          .finally(next);
      };
      addEventListener('online', () => void send(), { signal: until });
      round();
    },
  };
}

/** Puts entries on the disk; those that could not be put there stay in `loose`. */
async function keepAll(items: readonly Unsent[], loose: Map<string, Unsent>): Promise<void> {
  for (const item of items) {
    try {
      await keepUnsent(item);
      loose.delete(item.key);
    } catch {
      // Not on the disk, which every page says: it is sent from memory.
    }
  }
}

function sendingTo(token: string, taken: (written: WrittenLog) => void): Sending {
  const settled = async (_: Unsent, answer: Settled): Promise<'done' | 'again' | Refused> => {
    if (!answer.ok) return refusal(answer.problem);
    taken(answer.reply.body as WrittenLog);
    return 'done';
  };
  return { token, settled };
}

function itemOf(queue: string, entryId: string, body: LogEntryInput): Unsent {
  const key = newId();
  return {
    key,
    queue,
    about: entryId,
    operation: { method: writeLog.method, path: writeLog.path },
    input: { params: { entryId }, headers: { 'idempotency-key': key }, body },
    queuedAt: Date.now(),
    attempts: 0,
  };
}

/** Access may be given anew: until then what was written stays here. */
const refusal = ({ status, problem }: ApiProblem): 'again' | Refused =>
  status === 401 || status === 403 ? 'again' : { refused: problem.detail ?? problem.title };
