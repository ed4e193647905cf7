import { computed, type ReadonlySignal, signal } from '@preact/signals';
import { v7 as newId } from 'uuid';
import type { ApiProblem } from '../../api/call.ts';
import { type LogEntryInput, writeLog, type WrittenLog } from '../../api/operations.ts';
import type { Refused, Sending, Settled, Unsent } from '../../shared/outbox.ts';
import type { Session } from '../../shared/session.ts';
import { openQueue } from '../../shared/waiting-queue.ts';

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
  const answers = signal<readonly WrittenLog[]>([]);
  const sending = sendingTo(session.token, (written) => {
    answers.value = [...answers.value, written];
  });
  const { items, put, forget, keepSending } = openQueue(queue, () => sending);
  return {
    waiting: computed(() => items.value.map(waitingOf)),
    answers,
    write: (bodies) => void put(bodies.map((body) => itemOf(queue, entryId, body))),
    forget,
    keepSending,
  };
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
