import { openRandom, type Random, seedOf } from '../../../src/domain/foresight/random.ts';

/** A thing that can be looked at, as the generator knows it. */
export interface WorldItem {
  item: string;
  /** seconds to look at it */
  seconds: number;
  /** harm if it is wrong and nobody sees it, 1 to 10 */
  harm: number;
  /** what anybody would guess of it before the first car came: the chance that it is wrong */
  priorChance: number;
}

export interface WorldCar {
  id: number;
  kind: string;
  /** age of the answer in days */
  answerDays: number;
  by: 'entrant' | 'shop';
  /** the items that are wrong on it; nobody knows before somebody looks */
  wrong: ReadonlySet<string>;
  /** the chance of each item, which only the world knows */
  chance: ReadonlyMap<string, number>;
}

export interface FaultSeason {
  items: readonly WorldItem[];
  events: readonly (readonly WorldCar[])[];
}

const KINDS = ['hatch', 'saloon', 'coupe', 'roadster', 'formula', 'estate'];
const ITEMS = 40;
const EVENTS = 20;
const CARS = 60;

function makeItems(random: Random): WorldItem[] {
  return Array.from({ length: ITEMS }, (_, at) => ({
    item: `item-${at}`,
    seconds: 10 + 5 * random.below(15),
    harm: 1 + random.below(10),
    priorChance: 0.01 + random.uniform() * 0.05,
  }));
}

/**
 * A season of events with faults that nobody knows before. With `hasSignal` each item is more or less often wrong than
 * one would guess, on some kinds of car much more, more after an old answer and less where a shop declared; without, each item
 * is wrong exactly as often as one would guess, whatever the car.
 */
export function makeFaultSeason(seed: number, hasSignal: boolean): FaultSeason {
  const random = openRandom(seedOf(seed, 502));
  const items = makeItems(random);
  const itemFactor = new Map(items.map(({ item }) => [item, hasSignal ? Math.exp(random.normal() * 0.8) : 1]));
  const kindFactor = new Map(
    items.flatMap(({ item }) =>
      KINDS.map((kind) => [`${item} ${kind}`, hasSignal && random.uniform() < 0.2 ? 3 + random.uniform() * 5 : 1]),
    ),
  );
  const isAging = new Set(items.filter(() => hasSignal && random.uniform() < 0.3).map(({ item }) => item));
  const makeCar = (id: number): WorldCar => {
    const kind = KINDS[random.below(KINDS.length)] ?? 'hatch';
    const answerDays = random.below(14);
    const by = random.uniform() < 0.4 ? 'shop' : 'entrant';
    const chance = new Map(
      items.map(({ item, priorChance }) => {
        const factor =
          (itemFactor.get(item) ?? 1) *
          (kindFactor.get(`${item} ${kind}`) ?? 1) *
          (isAging.has(item) && answerDays > 7 ? 2 : 1) *
          (hasSignal && by === 'shop' ? 0.6 : 1);
        return [item, Math.min(priorChance * factor, 0.8)] as const;
      }),
    );
    const wrong = new Set([...chance].filter(([, p]) => random.uniform() < p).map(([item]) => item));
    return { id, kind, answerDays, by, wrong, chance };
  };
  const events = Array.from({ length: EVENTS }, (_, event) =>
    Array.from({ length: CARS }, (__, at) => makeCar(event * CARS + at)),
  );
  return { items, events };
}
