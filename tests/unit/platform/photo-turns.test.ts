import { expect, test } from 'vitest';
import { createLimiter, NoTurn } from '../../../src/platform/queue/outbox-relay.ts';

/** Work that ends when it is told to. */
function held() {
  let end: (failure?: Error) => void = () => undefined;
  const done = new Promise<void>((resolve, reject) => {
    end = (failure) => (failure === undefined ? resolve() : reject(failure));
  });
  return { done, end };
}
const settle = () => new Promise((resolve) => setImmediate(resolve));

test('so many at once, so many wait in order, the next is refused at once', async () => {
  const inTurn = createLimiter({ atOnce: 2, waiting: 2 });
  const works = [held(), held(), held(), held()];
  const started: number[] = [];
  const results = works.map((work, index) =>
    inTurn(async () => {
      started.push(index);
      await work.done;
      return index;
    }),
  );
  await settle();
  expect(started).toEqual([0, 1]);
  await expect(inTurn(async () => 'no')).rejects.toBeInstanceOf(NoTurn);
  works[1]?.end();
  await settle();
  expect(started).toEqual([0, 1, 2]);
  works[0]?.end();
  works[2]?.end();
  works[3]?.end();
  expect(await Promise.all(results)).toEqual([0, 1, 2, 3]);
});

test('work that fails gives its turn on', async () => {
  const inTurn = createLimiter({ atOnce: 1, waiting: 5 });
  const first = held();
  const failing = inTurn(() => first.done);
  const second = inTurn(async () => 'second');
  first.end(new Error('broken'));
  await expect(failing).rejects.toThrow('broken');
  expect(await second).toBe('second');
  // The turn is free again, also for somebody who did not wait.
  expect(await inTurn(async () => 'third')).toBe('third');
  await expect(
    inTurn(() => {
      throw new Error('before it began');
    }),
  ).rejects.toThrow('before it began');
  expect(await inTurn(async () => 'fourth')).toBe('fourth');
});
