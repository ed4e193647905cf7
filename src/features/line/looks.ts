import type { Deps } from '../../deps.ts';
import { type ChosenLook, kindOfCar, lookablesOf, secondsToSpare } from '../../domain/foresight/line-looks.ts';
import {
  chooseLooks,
  type Circumstances,
  type Learned,
  learnFrom,
  type Lookable,
  type Looks,
} from '../../domain/foresight/where-to-look.ts';
import { ASSUMED_SERVICE_MINUTES, median } from '../../domain/line/line-forecast.ts';
import type { PointToCheck } from '../../domain/line/points-to-check.ts';
import type { RuleSet } from '../../domain/rules/model/rule-set.ts';
import { roundTo } from '../../domain/quantity.ts';
import type { Vehicle } from '../../domain/vehicle.ts';
import { type CountedLooks, countLooks, findCircumstances, keepLooks } from './looks-store.ts';
import { listServiceMinutes } from './store.ts';

/** What was found at events that are over changes once a day at most; it is read anew after so long, ms. */
const KEPT_MS = 10 * 60_000;

const counted = new WeakMap<Deps, { at: number; looks: Promise<CountedLooks[]> }>();

/** What was found, read once for many claims. */
function looksUntil(deps: Deps, now: Date): Promise<CountedLooks[]> {
  const known = counted.get(deps);
  if (known !== undefined && Math.abs(now.getTime() - known.at) < KEPT_MS) return known.looks;
  const looks = countLooks(deps.db.prisma, now);
  counted.set(deps, { at: now.getTime(), looks });
  // a read that failed is tried again by the next claim
  looks.catch(() => counted.delete(deps));
  return looks;
}

/** A week, which parts fresh answers from old ones, on either side of the border. */
const DAYS = { fresh: 0, old: 8 } as const;

function learnedFrom(found: readonly CountedLooks[], items: readonly Lookable[]): Learned {
  const looks = found.map(({ item, description, isOld, byShop, looked, wrong }): Looks => {
    const of: Circumstances = {
      kind: kindOfCar({ description }),
      answerDays: isOld ? DAYS.old : DAYS.fresh,
      declaredBy: byShop ? 'shop' : 'entrant',
    };
    return { item, of, looked, wrong };
  });
  return learnFrom(looks, items);
}

/** The same for the same revision, so that a car that is put back and claimed again has the same list. */
const seedOfInspection = (inspectionId: string): number =>
  Number.parseInt(inspectionId.replaceAll('-', '').slice(-8), 16);

interface Car {
  claimId: string;
  inspectionId: string;
  eventId: string;
  vehicle: Vehicle;
  /** all points of the claim, and the rules that opened them */
  points: readonly PointToCheck[];
  ruleSet: RuleSet;
}

/**
 * Chooses for a claimed car what is worth a look beyond what must be looked at, in the time that the line has, by what the line
 * found at events that are over; and keeps the choice with the claim. Advice: nothing of it must be checked.
 */
export async function chooseForClaim(deps: Deps, car: Car, now: Date): Promise<ChosenLook[]> {
  const db = deps.db.prisma;
  const found = await looksUntil(deps, now);
  // by what rules say alone every car would have the same list: nothing is chosen before something was found out
  if (found.length === 0) return [];
  const known = await findCircumstances(db, car.claimId, now);
  if (known === undefined) return [];
  const minutesPerCar = median(await listServiceMinutes(db, car.eventId)) ?? ASSUMED_SERVICE_MINUTES;
  const items = lookablesOf(car.points, car.ruleSet);
  const of: Circumstances = {
    kind: kindOfCar(car.vehicle),
    answerDays: known.answerDays,
    declaredBy: known.byShop ? 'shop' : 'entrant',
  };
  const learned = learnedFrom(found, items);
  const seconds = secondsToSpare({ ...known, minutesPerCar });
  const chosen = chooseLooks(of, items, learned, { seconds, seed: seedOfInspection(car.inspectionId) });
  const looks = chosen.map(({ item, why, chance, seen, seconds: takes }) => ({
    item,
    why,
    chance: roundTo(chance, 4),
    looked: seen.looked,
    wrong: seen.wrong,
    seconds: takes,
  }));
  await keepLooks(db, car.claimId, looks);
  return looks;
}
