import { type ReadonlySignal, signal } from '@preact/signals';
import { dropUnsent, keepUnsent, listUnsent, sendOne, type Sending, sendUnsent, type Unsent } from './outbox.ts';

/** Between two tries to send. */
const RETRY_MS = 4000;

/** Requests of one queue as a page shows them: on the disk where the device keeps anything, else in memory. */
export interface WaitingQueue {
  /** oldest first */
  items: ReadonlySignal<readonly Unsent[]>;
  /**
   * Keeps requests and sends them; they are in `items` when this returns, and were tried once when the promise resolves.
   * `replaced` are forgotten once these are kept.
   */
  put(items: readonly Unsent[], replaced?: readonly string[]): Promise<void>;
  /** reads again what is on the disk, where another window may have put something */
  reread(): Promise<void>;
  /** a person has read why it was refused */
  forget(key: string): Promise<void>;
  /** again and again, until the signal */
  keepSending(until: AbortSignal): void;
}

/** @param sending asked for at each try: access may have been given anew meanwhile */
export function openQueue(queue: string, sending: () => Sending): WaitingQueue {
  const items = signal<readonly Unsent[]>([]);
  // What the device could not keep is held here, and sent all the same.
  const loose = new Map<string, Unsent>();
  let kept: readonly Unsent[] = [];
  const publish = (): void => {
    const others = [...loose.values()].filter(({ key }) => kept.every((one) => one.key !== key));
    items.value = [...kept, ...others];
  };
  const reread = async (): Promise<void> => {
    kept = await listUnsent(queue).catch(() => kept);
    publish();
  };
  const send = async (): Promise<void> => {
    if (kept.length + loose.size === 0) return;
    await sendUnsent(queue, sending()).catch(() => undefined);
    for (const item of loose.values()) {
      const result = await sendOne(item, sending());
      if (result === 'sent') loose.delete(item.key);
      else if (typeof result === 'object') loose.set(item.key, { ...item, ...result });
    }
    await reread();
  };
  const forget = async (key: string): Promise<void> => {
    loose.delete(key);
    await dropUnsent(key).catch(() => undefined);
    kept = kept.filter((one) => one.key !== key);
    publish();
  };
  const keep = async (added: readonly Unsent[], replaced: readonly string[]): Promise<void> => {
    await keepAll(added, loose);
    for (const key of replaced) await dropUnsent(key).catch(() => undefined);
    kept = await listUnsent(queue).catch(() => kept);
    await send();
  };
  return {
    items,
    put(added, replaced = []) {
      for (const key of replaced) loose.delete(key);
      kept = kept.filter(({ key }) => !replaced.includes(key));
      for (const item of added) loose.set(item.key, item);
      publish();
      return keep(added, replaced);
    },
    reread,
    forget,
    keepSending(until) {
      const round = (): void => {
        if (until.aborted) return;
        void reread()
          .then(() => (items.value.some(({ refused }) => refused === undefined) ? send() : undefined))
          .finally(() => setTimeout(round, RETRY_MS));
      };
      addEventListener('online', () => void send(), { signal: until });
      round();
    },
  };
}

/** Puts requests on the disk; those that could not be put there stay in `loose`. */
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
