import { seedOf } from '../../../src/domain/foresight/random.ts';
import {
  bestSet,
  chooseLooks,
  fixedList,
  learnFrom,
  type Looks,
  SEVERE_HARM,
} from '../../../src/domain/foresight/where-to-look.ts';
import { makeFaultSeason, type WorldCar, type WorldItem } from './fault-world.ts';

/** What the line has for each car beyond what it looks at anyhow, seconds. */
const SECONDS = 180;
/** Events from which nothing is counted: nothing was learned yet. */
const LEARNING = 6;

const circumstancesOf = ({ kind, answerDays, by }: WorldCar) => ({ kind, answerDays, declaredBy: by });

/** Harm found, and severe faults missed, by three ways of looking through the same seasons. */
export function reportLooks(seeds: readonly number[], hasSignal: boolean) {
  const sum = { fixed: 0, ours: 0, knowing: 0, severeMissedFixed: 0, severeMissedOurs: 0, secondsOurs: 0, cars: 0 };
  for (const seed of seeds) {
    const { items, events } = makeFaultSeason(seed, hasSignal);
    const looks: Looks[] = [];
    const fixed = new Set(fixedList(items, SECONDS).map(({ item }) => item));
    for (const [at, cars] of events.entries()) {
      const learned = learnFrom(looks, items);
      for (const car of cars) {
        const of = circumstancesOf(car);
        const chosen = chooseLooks(of, items, learned, { seconds: SECONDS, seed: seedOf(seed, car.id) });
        const ours = new Set(chosen.map(({ item }) => item));
        for (const { item } of chosen) looks.push({ item, of, looked: 1, wrong: car.wrong.has(item) ? 1 : 0 });
        if (at < LEARNING) continue;
        const knowing = bestSet(items, ({ item, harm }) => (car.chance.get(item) ?? 0) * harm, SECONDS);
        sum.cars += 1;
        sum.secondsOurs += chosen.reduce((all, { seconds }) => all + seconds, 0);
        sum.fixed += harmFound(items, car, fixed);
        sum.ours += harmFound(items, car, ours);
        sum.knowing += harmFound(items, car, new Set(knowing.map(({ item }) => item)));
        sum.severeMissedFixed += severeMissed(items, car, fixed);
        sum.severeMissedOurs += severeMissed(items, car, ours);
      }
    }
  }
  return { ...sum, gain: (sum.ours - sum.fixed) / (sum.knowing - sum.fixed), ofFixed: sum.ours / sum.fixed };
}

const harmFound = (items: readonly WorldItem[], { wrong }: WorldCar, set: ReadonlySet<string>) =>
  items.reduce((sum, { item, harm }) => sum + (set.has(item) && wrong.has(item) ? harm : 0), 0);
const severeMissed = (items: readonly WorldItem[], { wrong }: WorldCar, set: ReadonlySet<string>) =>
  items.filter(({ item, harm }) => harm >= SEVERE_HARM && wrong.has(item) && !set.has(item)).length;
