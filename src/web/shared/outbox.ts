import type { DBSchema } from 'idb';
import { ApiProblem, call, isTransient, type Reply, Unreachable } from '../api/call.ts';
import type { Operation, Shape } from '../api/operation.ts';
import { defineStore } from './device-store.ts';

/** A request that may be sent any number of times and takes effect once, kept on the device until it is answered. */
export interface Unsent {
  /** the Idempotency-Key, where the operation takes one, and the name of this request here */
  key: string;
  /** whose it is, for example `line`; each page sends its own */
  queue: string;
  /** what it is about, for the page: an id of its own */
  about: string;
  operation: { method: Operation<Shape>['method']; path: string };
  input: { params?: Shape['params']; query?: object; headers?: object; body?: unknown };
  /** media type of a body that is bytes */
  type?: string;
  /** device time, milliseconds */
  queuedAt: number;
  /** how often it was sent without an answer: it may have arrived */
  attempts: number;
  /** what the server said where it will never take it: not sent again, and kept until a person has read it */
  refused?: string;
  /** the code of that, where a page can do something about it */
  code?: string;
}

/** What the server said in the end. */
export type Settled = { ok: true; reply: Reply<Shape> } | { ok: false; problem: ApiProblem };

interface Schema extends DBSchema {
  unsent: { key: string; value: Unsent; indexes: { queue: string } };
}

const store = defineStore<Schema>('gridworthy-outbox', (db) => {
  db.createObjectStore('unsent', { keyPath: 'key' }).createIndex('queue', 'queue');
});

/** Keeps a request; it is on the disk when the promise resolves. @throws when it cannot be kept */
export async function keepUnsent(item: Omit<Unsent, 'queuedAt' | 'attempts'>): Promise<void> {
  await store.must((db) => db.put('unsent', { ...item, queuedAt: Date.now(), attempts: 0 }));
}

/** What waits in a queue, oldest first. @throws when the device cannot tell: that is not the same as nothing */
export async function listUnsent(queue: string): Promise<Unsent[]> {
  const found = await store.must((db) => db.getAllFromIndex('unsent', 'queue', queue));
  return found.sort((a, b) => a.queuedAt - b.queuedAt);
}

/** Throws a request away that was not answered. */
export async function dropUnsent(key: string): Promise<void> {
  await store.must((db) => db.delete('unsent', key));
}

export interface Sending {
  token: string;
  /** Gives a request what it lacked when it was kept, before it is sent. @throws as `call` does */
  complete?(item: Unsent): Promise<Unsent | Refused>;
  /**
   * Called with each answer before the request is forgotten, so that what follows from it is kept first. `again` sends
   * it once more at the next round.
   */
  settled(item: Unsent, answer: Settled): Promise<'done' | 'again' | Refused>;
}

/** Why the server will never take it, for a person. */
export interface Refused {
  refused: string;
  code?: string;
}

/**
 * Sends what waits in a queue, oldest first; stops when there is no connection. Two windows of one device take turns.
 *
 * @returns whether nothing waits any more
 */
export async function sendUnsent(queue: string, sending: Sending): Promise<boolean> {
  return inTurn(`gridworthy-outbox-${queue}`, async () => {
    let allSent = true;
    for (const item of await listUnsent(queue)) {
      const result = await sendOne(item, sending);
      if (result === 'unreachable') return false;
      // One that the server cannot take now must not hold up the others.
      allSent &&= result !== 'later';
    }
    return allSent;
  });
}

let last: Promise<unknown> = Promise.resolve();

/** One after the other: over all windows where the browser can do that, which it does on secure addresses only. */
function inTurn<T>(name: string, work: () => Promise<T>): Promise<T> {
  if ('locks' in navigator) return navigator.locks.request(name, work);
  const turn = last.then(work, work);
  last = turn;
  return turn;
}

/** Sends one request; also one that could not be kept. */
export async function sendOne(kept: Unsent, sending: Sending): Promise<'sent' | 'later' | 'unreachable' | Refused> {
  if (kept.refused !== undefined) return { refused: kept.refused };
  const { token, complete, settled } = sending;
  let item = kept;
  const answer = await answerTo<Settled | Refused>(async () => {
    const whole = (await complete?.(kept)) ?? kept;
    if (!('key' in whole)) return whole;
    item = whole;
    // Counted before it is sent: a request without an answer may have arrived. Where it cannot be written it goes all the same.
    await store.write((db) => db.put('unsent', { ...item, attempts: item.attempts + 1 }));
    return { ok: true, reply: await send(item, token) };
  });
  if (typeof answer === 'string') return answer;
  const after = 'refused' in answer ? answer : await settled(item, answer);
  if (after === 'again') return 'later';
  if (after !== 'done') {
    await store.write((db) => db.put('unsent', { ...item, ...after }));
    return after;
  }
  await store.write((db) => db.delete('unsent', item.key));
  return 'sent';
}

async function answerTo<T>(act: () => Promise<T>): Promise<T | Settled | 'later' | 'unreachable'> {
  try {
    return await act();
  } catch (error) {
    if (error instanceof Unreachable) return 'unreachable';
    if (isTransient(error)) return 'later';
    if (error instanceof ApiProblem) return { ok: false, problem: error };
    throw error;
  }
}

function send({ operation, input, type }: Unsent, token: string): Promise<Reply<Shape>> {
  const known: Operation<Shape> = operation;
  // a picture takes its time on a poor network
  return call(known, input as never, type === undefined ? { token } : { token, type, timeoutMs: 60_000 });
}

/** Runs one at a time; who asks meanwhile gets the one that runs, and another one is ordered for after it. */
export function oneAtATime(act: () => Promise<void>, order: () => void): () => Promise<void> {
  let running: Promise<void> | undefined;
  let again = false;
  return () => {
    again = running !== undefined;
    running ??= act().finally(() => {
      running = undefined;
      if (again) order();
      again = false;
    });
    return running;
  };
}
