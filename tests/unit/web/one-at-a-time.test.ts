import { expect, test } from 'vitest';
import { oneAtATime } from '../../../src/web/shared/outbox.ts';

/** Work that ends when told to. */
function workshop() {
  const ends: (() => void)[] = [];
  return { ends, work: () => new Promise<void>((resolve) => ends.push(resolve)) };
}
const settled = () => new Promise((resolve) => setTimeout(resolve));

test('asked for at any rate while it runs, it ends all the same and runs once more', async () => {
  const { ends, work } = workshop();
  const run = oneAtATime(work, () => void run());
  void run();
  for (let times = 0; times < 5; times += 1) void run();
  expect(ends.length).toBe(1);
  ends[0]?.();
  await settled();
  expect(ends.length).toBe(2);
  ends[1]?.();
  await settled();
  expect(ends.length).toBe(2);
  void run();
  expect(ends.length).toBe(3);
});
