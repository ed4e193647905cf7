import { GOOD_ANSWERS } from '../../seed/good-answers.ts';
import { STARTS_ON } from '../../seed/examples/example-case.ts';
import { valueOf } from '../../src/domain/car/car-facts.ts';
import { AS_DESCRIBED, factOfItem } from '../../src/domain/car/fact-table.ts';
import { hasBasis } from '../../src/domain/declaration/basis.ts';
import { isNoAnswer } from '../../src/domain/declaration/no-answer.ts';
import { findItem, positionsFor } from '../../src/domain/catalogue/catalogue.ts';
import { canRead } from '../../src/features/line/checks.ts';
import type { PointToCheck } from '../../src/domain/line/points-to-check.ts';
import type { Case } from './case.ts';

/** What an inspector writes down at a point, in the form of a check of a sign-off. */
export interface MadeCheck {
  item: string;
  position?: string;
  value?: unknown;
  result?: 'ok';
}

/** A point as the line shows it. */
export type ShownPoint = Pick<PointToCheck, 'item' | 'position' | 'asked' | 'ruleId' | 'needsValue' | 'always'>;

/** °C; only the line answers this, so that no good declaration has it */
const GOOD_AT_LINE: Readonly<Record<string, unknown>> = { 'brake-fluid.measured-boiling-point': 262 };

/** Read again at the line is the same oil. */
const SAME_AS: Readonly<Record<string, string>> = { 'oil.level.at-the-line': 'oil.level.reading' };

/** The inspector who ticks "ok" at every point he is shown, whatever the car is like. */
export function tick(points: readonly ShownPoint[], { vehicle }: Pick<Case, 'vehicle'>): MadeCheck[] {
  const ticks = points.map(({ item, position }) => ({ item, ...(position !== undefined && { position }) }));
  // the page has no tick for what the service would not take
  return ticks.map((check) => ({ ...check, result: 'ok' as const })).filter((check) => canRead(check, vehicle));
}

/**
 * The inspector who looks at what he is asked to look at, and measures where a value is asked or where the car is not as
 * it was declared. What he may look at besides he leaves out.
 */
export function measure(points: readonly ShownPoint[], of: Case): MadeCheck[] {
  return points.filter(({ asked }) => asked !== 'usual').flatMap((point) => checksAt(point, of));
}

function checksAt(point: ShownPoint, of: Case): MadeCheck[] {
  const places = placesOf(point, of);
  const differs = places.some((position) => valueIn(of.measures, point.item, position) !== undefined);
  if (!differs && !needsValue(point)) return tick([point], of);
  return places.flatMap((position) => {
    const value = trueValue(of, point.item, position);
    const at = { item: point.item, ...(position !== undefined && { position }) };
    return value === undefined ? [] : [{ ...at, value }];
  });
}

function needsValue({ item, needsValue: asked }: ShownPoint): boolean {
  return asked === true || findItem(item)?.answeredBy === 'inspector';
}

/** The single positions that a point stands for: a wheel has two pads, a whole car four wheels. */
function placesOf({ item: key, position }: ShownPoint, { vehicle }: Case): readonly (string | undefined)[] {
  const item = findItem(key);
  const all = item && positionsFor(item, vehicle);
  if (all === undefined) return [undefined];
  return all.filter((one) => position === undefined || one === position || one.startsWith(`${position}.`));
}

function valueIn(answers: Case['answers'], item: string, position: string | undefined): unknown {
  const answer = answers[item];
  if (position === undefined) return isNoAnswer(answer) ? undefined : (answer ?? undefined);
  // answers of an item with positions are by position; one value for several places is no measurement of this one, nor is
  // that nobody knows it or that it does not apply
  const at = (answer as Readonly<Record<string, unknown>> | undefined)?.[position] ?? undefined;
  return hasBasis(at) || isNoAnswer(at) ? undefined : at;
}

/** A number of the car itself is what was written of it, where the case does not say otherwise. */
function ofCar({ vehicle }: Case, item: string, position: string | undefined): unknown {
  if (item === AS_DESCRIBED) return true;
  const path = factOfItem(item, position);
  return path === undefined ? undefined : valueOf(vehicle, path);
}

/** How the car is: as measured, else as declared, else in good order. */
function trueValue(of: Case, item: string, position: string | undefined): unknown {
  const { vehicle } = of;
  const same = SAME_AS[item] ?? item;
  return (
    valueIn(of.measures, item, position) ??
    valueIn(of.measures, same, position) ??
    valueIn(of.answers, same, position) ??
    GOOD_AT_LINE[item] ??
    ofCar(of, item, position) ??
    GOOD_ANSWERS[item]?.({ vehicle, startsOn: STARTS_ON, position: position ?? '' })
  );
}
