import { openRandom, type Random } from './random.ts';

/** A thing that may be looked at on a car, beyond what is looked at anyhow. */
export interface Lookable {
  item: string;
  /** seconds to look at it; above 0 */
  seconds: number;
  /** harm if it is wrong and nobody sees it, 1 to 10 */
  harm: number;
  /** the chance that it is wrong before anything was learned here, from how severe its rule is */
  priorChance: number;
}

/** What may make an item more or less often wrong. */
export interface Circumstances {
  /** kind of car, as the organizer's records have it */
  kind: string;
  /** days between the answer and the line */
  answerDays: number;
  declaredBy: 'entrant' | 'shop';
}

/** Looks, and how many of them found it wrong. */
interface Seen {
  looked: number;
  wrong: number;
}

/** What looks in the same circumstances showed, counted. */
export interface Looks extends Seen {
  item: string;
  of: Circumstances;
}

/** How much more often than expected something is wrong: the gamma posterior of a factor whose prior mean is 1. */
interface Learnt {
  /** faults found, and those that the prior is worth */
  shape: number;
  /** faults expected, and those that the prior is worth */
  rate: number;
}

/** What was learned of looks at this organizer's events. */
export interface Learned {
  /** by item: against its prior */
  items: ReadonlyMap<string, Learnt>;
  /** by item and kind of car */
  kinds: ReadonlyMap<string, Learnt>;
  /** by item and whether the answer was old */
  ages: ReadonlyMap<string, Learnt>;
  /** by who declared */
  declarers: ReadonlyMap<string, Learnt>;
  /** what a factor is worth before it was seen, in faults: how much alike its kin turned out to be */
  weights: Readonly<Record<Factor, number>>;
  /** looks by item and kind of car */
  seen: ReadonlyMap<string, Seen>;
}

/** One item with its chance of being wrong on this car, and why. */
export interface Chance extends Lookable {
  chance: number;
  /** looks at such cars, and how many were wrong: what an inspector reads */
  seen: { looked: number; wrong: number };
}

/** An answer older than this is old. Common practice, no source. */
const OLD_DAYS = 7;
/**
 * Weight of what was believed before, in faults, while little was found: the more, the slower one learns. What was found then
 * tells how different the factors are, and with it how much to believe of each.
 */
const FIRST_WEIGHT = { items: 2, kinds: 2, ages: 4, declarers: 10 } as const;
const WEIGHT_RANGE = { least: 0.7, most: 400 };
/** How much the first weights count beside what was found, in squared faults expected. */
const FIRST_WEIGHT_WORTH = 10;
/** Rounds after which the factors stand still to a percent. */
const ROUNDS = 6;
/** Severe faults count this much more, so that what is tried out is not paid for with them. Common practice, no source. */
const SEVERE_WEIGHT = 1.3;
/** From this harm on a fault is severe. */
export const SEVERE_HARM = 9;
const GRID_SECONDS = 5;

/** Where a look counts: under its item, its item and kind of car, its item and age of answer, and who declared. */
const keysOf = (item: string, { kind, answerDays, declaredBy }: Circumstances) => ({
  items: item,
  kinds: `${item}\u0000${kind}`,
  ages: `${item}\u0000${answerDays > OLD_DAYS ? 'old' : 'fresh'}`,
  declarers: declaredBy,
});

type Keys = ReturnType<typeof keysOf>;
type Factor = keyof Keys;
const FACTORS: readonly Factor[] = ['items', 'kinds', 'ages', 'declarers'];

/** Looks in the same circumstances, counted. */
interface Cell extends Seen {
  keys: Keys;
  priorChance: number;
}

function countCells(looks: readonly Looks[], items: readonly Lookable[]): Cell[] {
  const priorOf = new Map(items.map(({ item, priorChance }) => [item, priorChance]));
  const cells = new Map<string, Cell>();
  for (const { item, of, looked, wrong } of looks) {
    const priorChance = priorOf.get(item);
    if (priorChance === undefined) continue;
    const keys = keysOf(item, of);
    const key = `${keys.kinds} ${keys.ages} ${keys.declarers}`;
    const cell = cells.get(key) ?? { keys, priorChance, looked: 0, wrong: 0 };
    cell.looked += looked;
    cell.wrong += wrong;
    cells.set(key, cell);
  }
  return [...cells.values()];
}

/**
 * Learns from looks: how often each item is wrong, and how much more often than that on which kind of car, after an old
 * answer, and with whom. Each factor is the mean of a gamma posterior (prior mean 1) of faults over what the prior and
 * the other factors made one expect, so that what one circumstance explains is not counted for another too; for small
 * chances that is the mean of the beta posterior. How far factors of a kind lie apart is estimated from them (empirical
 * Bayes): where cars are all alike, nothing is made of chance. People are not scored: all shops together are one factor.
 * Pure; never throws.
 *
 * @param looks all looks, also those that found nothing; what was only declared is not one
 * @see Beta(a + x, b + n − x) and its limit for rare faults; Gelman et al., Bayesian Data Analysis, 2.4, 2.6 and 5.1
 */
export function learnFrom(looks: readonly Looks[], items: readonly Lookable[]): Learned {
  const cells = countCells(looks, items);
  const learned: Record<Factor, Map<string, Learnt>> = {
    items: new Map(),
    kinds: new Map(),
    ages: new Map(),
    declarers: new Map(),
  };
  const weights: Record<Factor, number> = { ...FIRST_WEIGHT };
  const expectedOf = ({ keys, priorChance, looked }: Cell, but: Factor) =>
    FACTORS.reduce(
      (all, factor) => (factor === but ? all : all * meanOf(learned[factor].get(keys[factor]))),
      priorChance * looked,
    );
  for (let round = 0; round < ROUNDS; round += 1) {
    for (const factor of FACTORS) {
      const sums = sumBy(cells, factor, expectedOf);
      const weight = weightOf(sums, FIRST_WEIGHT[factor]);
      weights[factor] = weight;
      learned[factor] = new Map(
        [...sums].map(([key, { wrong, expected }]) => [key, { shape: weight + wrong, rate: weight + expected }]),
      );
    }
  }
  const seen = new Map<string, Seen>();
  for (const { keys, looked, wrong } of cells) {
    const before = seen.get(keys.kinds) ?? { looked: 0, wrong: 0 };
    seen.set(keys.kinds, { looked: before.looked + looked, wrong: before.wrong + wrong });
  }
  return { ...learned, weights, seen };
}

const meanOf = (learnt: Learnt | undefined): number => (learnt === undefined ? 1 : learnt.shape / learnt.rate);

interface Sum {
  wrong: number;
  expected: number;
}

function sumBy(cells: readonly Cell[], factor: Factor, expectedOf: (cell: Cell, but: Factor) => number) {
  const sums = new Map<string, Sum>();
  for (const cell of cells) {
    const key = cell.keys[factor];
    const sum = sums.get(key) ?? { wrong: 0, expected: 0 };
    sum.wrong += cell.wrong;
    sum.expected += expectedOf(cell, factor);
    sums.set(key, sum);
  }
  return sums;
}

/** One over the variance between the factors, by moments: counts scatter by themselves (Poisson), the rest is theirs. */
function weightOf(sums: ReadonlyMap<string, Sum>, first: number): number {
  let [scatter, square] = [FIRST_WEIGHT_WORTH / first, FIRST_WEIGHT_WORTH];
  for (const { wrong, expected } of sums.values()) {
    scatter += (wrong - expected) ** 2 - expected;
    square += expected ** 2;
  }
  const variance = Math.max(scatter / square, 0);
  return Math.min(Math.max(1 / variance, WEIGHT_RANGE.least), WEIGHT_RANGE.most);
}

/**
 * The chance of each item to be wrong on a car, from 0 to 1, with the looks it rests on. Pure but for `random`; never throws.
 *
 * @param random draws from what the chance may be instead of its mean: what is little known then comes up now and then
 */
export function chancesOn(of: Circumstances, items: readonly Lookable[], learned: Learned, random?: Random): Chance[] {
  return items.map((one) => {
    const keys = keysOf(one.item, of);
    const factors = FACTORS.map((factor) => {
      const learnt = learned[factor].get(keys[factor]);
      if (random === undefined) return meanOf(learnt);
      const { shape, rate } = learnt ?? { shape: learned.weights[factor], rate: learned.weights[factor] };
      return random.gamma(shape) / rate;
    });
    const chance = factors.reduce((all, factor) => all * factor, one.priorChance);
    return { ...one, chance: Math.min(1, chance), seen: learned.seen.get(keys.kinds) ?? { looked: 0, wrong: 0 } };
  });
}

/**
 * The best set that fits into the seconds: the largest sum of `worth`, exactly, on a grid of 5 s (each look rounded up, so that
 * the set never takes longer than it may). Pure; never throws.
 *
 * @see 0/1 knapsack by dynamic programming, textbook
 */
export function bestSet<T extends { seconds: number }>(
  items: readonly T[],
  worth: (item: T) => number,
  seconds: number,
): T[] {
  const room = Math.max(0, Math.floor(seconds / GRID_SECONDS));
  const best = new Float64Array(room + 1);
  const isTaken = items.map((item) => {
    const taken = new Uint8Array(room + 1);
    const [size, value] = [Math.ceil(item.seconds / GRID_SECONDS), worth(item)];
    for (let at = room; at >= size; at -= 1) {
      const withIt = (best[at - size] ?? 0) + value;
      if (withIt <= (best[at] ?? 0)) continue;
      best[at] = withIt;
      taken[at] = 1;
    }
    return taken;
  });
  const set: T[] = [];
  let at = room;
  for (let index = items.length - 1; index >= 0; index -= 1) {
    const item = items[index];
    if (item === undefined || isTaken[index]?.[at] !== 1) continue;
    set.push(item);
    at -= Math.ceil(item.seconds / GRID_SECONDS);
  }
  return set.toReversed();
}

/** An item to look at, and why it was chosen: for what is known of such cars, or to learn more of them. */
export interface Chosen extends Chance {
  why: 'worth' | 'learn';
}

/** The list that would be looked at on every car if nothing had been learned: the best by the priors alone. */
export const fixedList = (items: readonly Lookable[], seconds: number): Lookable[] =>
  bestSet(items, ({ priorChance, harm }) => priorChance * harm, seconds);

/**
 * What is worth looking at on a car in so many seconds, beyond what is looked at anyhow: the best set by chance times harm,
 * the chances drawn from what they may be (Thompson's rule), so that learning stays honest. Severe faults have some more
 * weight: in the worlds of the bench no more of them are missed than by the fixed list. Pure; never throws.
 *
 * @param seed of the draw: the same car on the same day has the same list
 * @see Thompson 1933; 0/1 knapsack
 */
export function chooseLooks(
  of: Circumstances,
  items: readonly Lookable[],
  learned: Learned,
  { seconds, seed }: { seconds: number; seed: number },
): Chosen[] {
  const worth = ({ chance, harm }: Chance) => chance * harm * (harm >= SEVERE_HARM ? SEVERE_WEIGHT : 1);
  const means = chancesOn(of, items, learned);
  const known = new Set(bestSet(means, worth, seconds).map(({ item }) => item));
  const drawn = bestSet(chancesOn(of, items, learned, openRandom(seed)), worth, seconds);
  const isDrawn = new Set(drawn.map(({ item }) => item));
  return means
    .filter(({ item }) => isDrawn.has(item))
    .map((one) => ({ ...one, why: known.has(one.item) ? 'worth' : 'learn' }));
}
