import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { inBatches } from '../../../../src/features/gate/look-up.ts';

const later = () => new Promise<void>((resolve) => setImmediate(resolve));

describe('inBatches', () => {
  it('gives every item its own result, whenever it comes and however the batches fall', async () => {
    const plan = fc.record({
      lanes: fc.integer({ min: 1, max: 4 }),
      most: fc.integer({ min: 1, max: 5 }),
      // turns to wait before each item, and turns that each batch takes
      gaps: fc.array(fc.nat(3), { maxLength: 40 }),
      pace: fc.nat(3),
    });
    await fc.assert(
      fc.asyncProperty(plan, async ({ lanes, most, gaps, pace }) => {
        let busy = 0;
        const ask = inBatches(
          async (items: readonly number[]) => {
            busy += 1;
            expect(busy).toBeLessThanOrEqual(lanes);
            expect(items.length).toBeGreaterThan(0);
            expect(items.length).toBeLessThanOrEqual(most);
            for (let turn = 0; turn < pace; turn += 1) await later();
            busy -= 1;
            return items.map((item) => item * 10);
          },
          { lanes, most },
        );
        const answers: Promise<number>[] = [];
        for (const [item, gap] of gaps.entries()) {
          for (let turn = 0; turn < gap; turn += 1) await later();
          answers.push(ask(item));
        }
        expect(await Promise.all(answers)).toEqual(gaps.map((_, item) => item * 10));
      }),
      { numRuns: 200 },
    );
  });

  it('takes an item that is asked for at the very moment the last batch is answered', async () => {
    const ask = inBatches(async (items: readonly number[]) => items, { lanes: 1, most: 10 });
    for (let item = 0; item < 100; item += 1) expect(await ask(item)).toBe(item);
  });

  it('never answers from a reading that began before the question', async () => {
    let truth = 0;
    const ask = inBatches(
      async (items: readonly string[]) => {
        const seen = truth;
        await later();
        return items.map(() => seen);
      },
      { lanes: 1, most: 10 },
    );
    const early = ask('early');
    await later();
    truth = 1;
    expect(await ask('late')).toBe(1);
    expect(await early).toBe(0);
  });

  it('fails every item of a batch that fails, and goes on with the next', async () => {
    const ask = inBatches(
      async (items: readonly string[]) => {
        if (items.includes('bad')) throw new Error('no database');
        return items;
      },
      { lanes: 1, most: 10 },
    );
    const outcomes = await Promise.allSettled([ask('good'), ask('bad')]);
    expect(outcomes.map(({ status }) => status)).toEqual(['rejected', 'rejected']);
    expect(await ask('good')).toBe('good');
  });

  it('fails when there are not as many results as items: an answer must never reach the wrong question', async () => {
    const ask = inBatches(async (items: readonly string[]) => items.slice(1), { lanes: 1, most: 10 });
    const outcomes = await Promise.allSettled([ask('a'), ask('b')]);
    expect(outcomes.map(({ status }) => status)).toEqual(['rejected', 'rejected']);
  });

  it('goes on in the other lane while one hangs', async () => {
    const ask = inBatches(
      (items: readonly string[]) =>
        items.includes('hangs') ? new Promise<never>(() => undefined) : Promise.resolve(items),
      { lanes: 2, most: 1 },
    );
    void ask('hangs');
    expect(await Promise.all([ask('a'), ask('b'), ask('c')])).toEqual(['a', 'b', 'c']);
  });
});
