import { findItem } from '../catalogue/catalogue.ts';
import type { PointToCheck } from '../line/points-to-check.ts';
import { isMeasurable } from '../rules/model/finding.ts';
import type { Rule, RuleSet } from '../rules/model/rule-set.ts';
import { messageIn } from '../rules/says/rule-words.ts';
import type { Vehicle } from '../vehicle.ts';
import type { Chosen, Lookable } from './where-to-look.ts';

/** A point that was chosen for a car beyond what must be looked at, as it is kept with the claim. */
export interface ChosenLook {
  item: string;
  why: Chosen['why'];
  /** to be wrong on this car, by what was known then */
  chance: number;
  /** looks at such cars before, and how many found it wrong */
  looked: number;
  wrong: number;
  seconds: number;
}

/** Seconds for a look and for a measurement where no point of the rules says how long it takes. Common practice, no source. */
const SECONDS = { look: 20, measure: 45 } as const;
/** The chance to be wrong before anything was learned, and the harm if nobody sees it, by the most severe rule. Common practice, no source. */
const BY_SEVERITY = {
  critical: { priorChance: 0.01, harm: 10 },
  bar: { priorChance: 0.02, harm: 8 },
  inspect: { priorChance: 0.03, harm: 5 },
  advise: { priorChance: 0.05, harm: 2 },
  none: { priorChance: 0.01, harm: 1 },
} as const;

/** No car is kept longer for what nobody demands, in seconds. Common practice, no source. */
const MOST_SECONDS = 180;

function severityOf(rules: readonly Rule[]): keyof typeof BY_SEVERITY {
  if (rules.some(({ safetyCritical }) => safetyCritical === true)) return 'critical';
  return (
    (['bar', 'inspect', 'advise'] as const).find((effect) => rules.some((rule) => rule.effect === effect)) ?? 'none'
  );
}

/**
 * What may be looked at on a car beyond what must be: the items of points that nobody and nothing asks for yet, with how long
 * each takes and how bad it is if it is wrong. Pure.
 *
 * @param points all points of the claim: those of an item that anything opened are never traded
 */
export function lookablesOf(points: readonly PointToCheck[], { rules, alwaysLook = [] }: RuleSet): Lookable[] {
  const opened = new Set(points.filter(({ asked }) => asked !== 'usual').map(({ item }) => item));
  const free = new Set(points.map(({ item }) => item).filter((item) => !opened.has(item)));
  return [...free].flatMap((key) => {
    const item = findItem(key);
    if (item === undefined) return [];
    const own = rules.filter(({ items }) => items[0] === key);
    const said = alwaysLook.find(({ items }) => items.length === 1 && items[0] === key)?.seconds;
    const seconds = said ?? (isMeasurable(item) ? SECONDS.measure : SECONDS.look);
    return [{ item: key, seconds, ...BY_SEVERITY[severityOf(own)] }];
  });
}

/** What kind of car it is, as one compares cars: its description without the year, spelled alike. */
export const kindOfCar = ({ description }: Pick<Vehicle, 'description'>): string =>
  description
    .toLowerCase()
    .replaceAll(/\b(?:19|20)\d\d\b/g, ' ')
    .replaceAll(/[^\p{L}\p{N}.]+/gu, ' ')
    .trim();

/**
 * Seconds that the line has for one car beyond what a car takes: what is left until the first session of its group, shared among the
 * cars on the line; 0 where the line is behind. Pure.
 *
 * @param carsWaiting on the line with this one, at least 1
 * @param minutesPerCar what a car usually takes
 */
export function secondsToSpare(of: {
  minutesToSession: number;
  inspectors: number;
  carsWaiting: number;
  minutesPerCar: number;
}): number {
  // once the group is on track nobody knows who waits for whom: as if there were time
  if (of.minutesToSession <= 0) return MOST_SECONDS;
  const perCar = (of.minutesToSession * Math.max(1, of.inspectors)) / Math.max(1, of.carsWaiting);
  return Math.round(Math.min(MOST_SECONDS, Math.max(0, perCar - of.minutesPerCar) * 60));
}

/** Why a point was chosen, in one sentence, English: `messageIn` has it in other languages. */
function sayChosen({ why, looked, wrong }: ChosenLook): string {
  if (wrong > 0) return `Wrong on ${wrong} of ${looked} such cars that were looked at.`;
  if (why === 'learn') return 'Chosen to learn: little is known of it on such cars.';
  return looked === 0
    ? 'Worth a look: nobody looked at it on such a car yet.'
    : `Worth a look: in order on all ${looked} such cars that were looked at, and bad if it is not.`;
}

/** The points with those that were chosen before the rest, and why; what anything else opened stays as it is. Pure. */
export function withChosen(
  points: readonly PointToCheck[],
  chosen: readonly ChosenLook[],
  language: string,
): (PointToCheck & { chosen?: ChosenLook })[] {
  const byItem = new Map(chosen.map((one) => [one.item, one]));
  const rest = points.filter(({ asked }) => asked === 'usual');
  const picked = rest.flatMap((point) => {
    const look = byItem.get(point.item);
    if (look === undefined) return [];
    return [{ ...point, asked: 'chosen' as const, why: messageIn(sayChosen(look), language), chosen: look }];
  });
  return [
    ...points.filter(({ asked }) => asked !== 'usual'),
    ...picked,
    ...rest.filter(({ item }) => !byItem.has(item)),
  ];
}
