import { expect, test } from 'vitest';
import { openRandom } from '../../../../src/domain/foresight/random.ts';
import {
  bestSet,
  chancesOn,
  chooseLooks,
  type Circumstances,
  learnFrom,
  type Looks,
} from '../../../../src/domain/foresight/where-to-look.ts';

const ITEMS = [
  { item: 'hose', seconds: 30, harm: 9, priorChance: 0.02 },
  { item: 'boot', seconds: 30, harm: 5, priorChance: 0.03 },
  { item: 'strap', seconds: 20, harm: 4, priorChance: 0.05 },
];
const COUPE: Circumstances = { kind: 'coupe', answerDays: 2, declaredBy: 'entrant' };
const HATCH = { ...COUPE, kind: 'hatch' };

const looks = (item: string, of: Looks['of'], looked: number, wrong: number): Looks[] => [{ item, of, looked, wrong }];

test('before the first look a chance is what one would guess', () => {
  const learned = learnFrom([], ITEMS);
  expect(chancesOn(COUPE, ITEMS, learned).map(({ chance }) => chance)).toEqual([0.02, 0.03, 0.05]);
});

test('what is often wrong on one kind of car is expected there, and less elsewhere', () => {
  const learned = learnFrom([...looks('boot', COUPE, 41, 12), ...looks('boot', HATCH, 120, 2)], ITEMS);
  const on = (of: Circumstances) => chancesOn(of, ITEMS, learned).find(({ item }) => item === 'boot');
  expect(on(COUPE)?.chance).toBeGreaterThan(0.18);
  expect(on(COUPE)?.chance).toBeLessThan(12 / 41);
  expect(on(HATCH)?.chance).toBeLessThan(0.05);
  expect(on(COUPE)?.seen).toEqual({ looked: 41, wrong: 12 });
});

test('looks that found nothing lower a chance, and never to none', () => {
  const learned = learnFrom(looks('hose', COUPE, 200, 0), ITEMS);
  const [hose] = chancesOn(COUPE, ITEMS, learned);
  expect(hose?.chance).toBeLessThan(0.02);
  expect(hose?.chance).toBeGreaterThan(0);
});

test('the same car has the same list, within its seconds; what is drawn to learn is said so', () => {
  const learned = learnFrom(looks('strap', COUPE, 50, 3), ITEMS);
  const list = (seed: number) => chooseLooks(COUPE, ITEMS, learned, { seconds: 60, seed });
  expect(list(7)).toEqual(list(7));
  const all = Array.from({ length: 200 }, (_, seed) => list(seed));
  expect(all.every((set) => set.reduce((sum, { seconds }) => sum + seconds, 0) <= 60)).toBe(true);
  expect(new Set(all.flat().map(({ item }) => item)).size).toBe(3);
  expect(all.some((set) => set.some(({ why }) => why === 'learn'))).toBe(true);
});

test('a set is the best of all sets', () => {
  const random = openRandom(5);
  for (let round = 0; round < 50; round += 1) {
    const items = Array.from({ length: 9 }, () => ({ seconds: 5 + 5 * random.below(12), worth: random.uniform() }));
    const sum = (set: typeof items, of: 'seconds' | 'worth') => set.reduce((all, one) => all + one[of], 0);
    const sets = Array.from({ length: 512 }, (_, bits) => items.filter((__, at) => (bits >> at) % 2 === 1));
    const best = Math.max(...sets.filter((set) => sum(set, 'seconds') <= 120).map((set) => sum(set, 'worth')));
    const found = bestSet(items, ({ worth }) => worth, 120);
    expect(sum(found, 'seconds')).toBeLessThanOrEqual(120);
    expect(sum(found, 'worth')).toBeCloseTo(best, 9);
  }
});

test('random numbers have the moments of their kind', () => {
  const random = openRandom(11);
  const draw = (of: () => number) => {
    const all = Array.from({ length: 40_000 }, of);
    const mean = all.reduce((sum, x) => sum + x, 0) / all.length;
    return { mean, variance: all.reduce((sum, x) => sum + (x - mean) ** 2, 0) / all.length };
  };
  // a gamma with unit scale has the mean and the variance of its shape; standard errors below 0.02
  for (const shape of [0.5, 2, 9]) {
    const { mean, variance } = draw(() => random.gamma(shape));
    expect(Math.abs(mean - shape) / shape).toBeLessThan(0.04);
    expect(Math.abs(variance - shape) / shape).toBeLessThan(0.08);
  }
  const normal = draw(random.normal);
  expect(Math.abs(normal.mean)).toBeLessThan(0.025);
  expect(Math.abs(normal.variance - 1)).toBeLessThan(0.04);
});
