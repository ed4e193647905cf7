import { threadId } from 'node:worker_threads';
import { afterEach, describe, expect, inject, test } from 'vitest';
import { createLogger } from '../../src/platform/logger.ts';
import { TooHeavy } from '../../src/platform/threads/thread.ts';
import {
  CallerBusy,
  openThreads,
  takeNext,
  type ThreadOptions,
  type Threads,
  ThreadsBusy,
} from '../../src/platform/threads/threads.ts';
import { ECHO, ENDLESS, FULL, SLOW, THROWS } from '../support/odd-task-list.ts';
import '../support/setup/threads.ts';

let threads: Threads;
function open(options: Partial<ThreadOptions> = {}): Threads {
  const file = new URL('odd-tasks.mjs', inject('threadFolder'));
  threads = openThreads({ file, log: createLogger({ level: 'silent' }), niceness: 0, waitMs: 60_000, ...options });
  return threads;
}
afterEach(() => threads.stop());

const as = (caller: string, urgency = 1) => ({ caller, urgency });

describe('a task in a thread', () => {
  test('runs in another thread than the one that asks, one after the other in the same', async () => {
    const { run } = open();
    const [one, other] = [await run(ECHO, 'one', as('a')), await run(ECHO, 'other', as('b'))];
    expect([one.said, other.said]).toEqual(['one', 'other']);
    expect(one.threadId).not.toBe(threadId);
    expect(other.threadId).toBe(one.threadId);
  });

  test('that throws is a rejection with its message, and the thread goes on', async () => {
    const { run } = open();
    const before = await run(ECHO, '', as('a'));
    await expect(run(THROWS, 'no such thing', as('a'))).rejects.toThrow('no such thing');
    expect(await run(ECHO, '', as('a'))).toEqual(before);
  });

  test('that does not end is ended at its limit of processor time, and the next gets a new thread', async () => {
    const { run } = open();
    const before = await run(ECHO, '', as('a'));
    const [ended, next] = await Promise.allSettled([run(ENDLESS, null, as('a')), run(ECHO, 'next', as('b'))]);
    expect(ended).toMatchObject({ status: 'rejected', reason: expect.any(TooHeavy) });
    expect(next).toMatchObject({ status: 'fulfilled', value: { said: 'next' } });
    expect((next as PromiseFulfilledResult<{ threadId: number }>).value.threadId).not.toBe(before.threadId);
  });

  test('that takes all memory is ended, and the next gets a new thread', async () => {
    const { run } = open({ memoryMb: 32 });
    await expect(run(FULL, null, as('a'))).rejects.toMatchObject({ of: 'memory' });
    expect((await run(ECHO, 'next', as('b'))).said).toBe('next');
  });
});

describe('when more is asked than gets done', () => {
  test('one caller has only so much at once, and others have their turn', async () => {
    const { run } = open({ perCaller: 2 });
    const mine = [run(SLOW, 100, as('a')), run(ECHO, '', as('a'))];
    await expect(run(ECHO, '', as('a'))).rejects.toBeInstanceOf(CallerBusy);
    expect((await run(ECHO, 'b', as('b'))).said).toBe('b');
    await Promise.all(mine);
    expect((await run(ECHO, 'again', as('a'))).said).toBe('again');
  });

  test('only so much waits, and not for ever', async () => {
    const { run } = open({ waiting: 1 });
    await run(ECHO, '', as('a'));
    const running = run(SLOW, 200, as('a'));
    const waits = run(ECHO, 'b', as('b'));
    await expect(run(ECHO, '', as('c'))).rejects.toBeInstanceOf(ThreadsBusy);
    await Promise.all([running, waits]);

    await threads.stop();
    const impatient = open({ waitMs: 50 });
    await impatient.run(ECHO, '', as('a'));
    const long = impatient.run(SLOW, 2000, as('a'));
    await expect(impatient.run(ECHO, '', as('b'))).rejects.toBeInstanceOf(ThreadsBusy);
    await long;
  });

  // It did not fail: whoever asked may ask another server.
  test('at a stop what waits and what runs is rejected as what may be sent again', async () => {
    const { run, stop } = open();
    await run(ECHO, '', as('a'));
    const both = Promise.allSettled([run(SLOW, 60_000, as('a')), run(ECHO, '', as('b'))]);
    await stop();
    const busy = { status: 'rejected', reason: expect.any(ThreadsBusy) };
    expect(await both).toMatchObject([busy, busy]);
    await expect(run(ECHO, '', as('a'))).rejects.toBeInstanceOf(ThreadsBusy);
  });
});

test('the most urgent goes first, then whoever was served longest ago', () => {
  const queue = ['a1', 'a2', 'a3', 'b1', 'c0'].map((name) => ({
    name,
    caller: name[0] ?? '',
    urgency: name === 'c0' ? 0 : 1,
  }));
  const served = new Map<string, number>();
  const order = Array.from({ length: 5 }, () => takeNext(queue, served).name);
  expect(order).toEqual(['c0', 'a1', 'b1', 'a2', 'a3']);
  expect(queue).toEqual([]);
});
