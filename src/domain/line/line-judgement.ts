import { type Answers, type AnswerValue, cellKey, parseAnswers } from '../declaration/declaration.ts';
import { keepReadWith, type ReadWith, readWithName } from './instruments.ts';
import { itemOfFact, placeOfFact } from '../car/fact-table.ts';
import { mustBeRead } from '../car/car-facts.ts';
import { isNear } from '../catalogue/item.ts';
import { type Finding, isMeasurable, isReadOff, type Judgement, verdictOf } from '../rules/model/finding.ts';
import { findItem, itemApplies, positionsFor } from '../catalogue/catalogue.ts';
import { bindParameter } from '../rules/model/parameter-values.ts';
import {
  ALWAYS_LOOK_PARAMETER,
  type AlwaysLook,
  type ParameterOverride,
  type RuleSet,
} from '../rules/model/rule-set.ts';
import type { Vehicle } from '../vehicle.ts';

/** A check of a sign-off, as far as a value goes. */
export interface MeasuredCheck {
  item: string;
  position?: string | undefined;
  value?: unknown;
  readWith?: ReadWith | undefined;
}

/** The value of a check as answers are sent. */
export const rawOf = ({ item, position, value }: MeasuredCheck): Record<string, unknown> => ({
  [item]: position === undefined ? value : { [position]: value },
});

/** Keeps the cells of one check, and what they were read with; a later check of the same place wins in both. */
export function keepMeasured(
  to: Map<string, AnswerValue>,
  { item, position, readWith }: MeasuredCheck,
  cells: Answers,
): void {
  for (const [cell, value] of cells) to.set(cell, value);
  const place = cellKey(item, position);
  if (readWith !== undefined) keepReadWith(to, place, readWith);
  else to.delete(readWithName(place));
}

/**
 * What checks measured, as answers that judge. One that a later catalogue cannot read is left out: its point then counts as
 * declared, or as not known.
 */
export function measuredAnswers(checks: readonly MeasuredCheck[]): Answers {
  const measured = new Map<string, AnswerValue>();
  for (const check of checks) {
    if (check.value === undefined) continue;
    const parsed = parseAnswers(rawOf(check));
    if (parsed.ok) keepMeasured(measured, check, parsed.answers);
  }
  return measured;
}

/** What the inspector saw at a point without measuring it. */
export interface SeenPoint {
  item: string;
  position?: string | undefined;
  result: 'ok' | 'not-ok';
}

/** A point that was looked at, by a measurement or by eye. */
export interface CheckedPoint {
  item: string;
  position?: string | undefined;
  /** a value was given */
  measured?: boolean;
}

/**
 * Where the line can give a value of an item on this car, whether it is a number or read off a label, and the item that asks
 * the same in less detail; nothing where it cannot.
 */
export type ValuesOf = (item: string) =>
  | {
      positions: readonly (string | undefined)[];
      isNumber: boolean;
      isReadOff: boolean;
      detailOf?: string | undefined;
    }
  | undefined;

/** Where the line can give a value of an item on this car. */
export function valuesOn(vehicle: Vehicle): ValuesOf {
  return (key) => {
    const item = findItem(key);
    if (item === undefined || item.answeredBy === 'entrant' || !itemApplies(item, vehicle)) return undefined;
    return {
      positions: positionsFor(item, vehicle) ?? [undefined],
      isNumber: isMeasurable(item),
      isReadOff: isReadOff(item),
      detailOf: item.detailOf,
    };
  };
}

/** What stands among the answers of the catalogue for nobody knowing: it is asked for no less after the line has said so, too. */
const NOT_KNOWN: readonly unknown[] = ['not-seen', 'not-known', 'not-found', 'unknown'];

/** Whether a value given at the line says how the car is. */
export const saysHowItIs = (value: unknown): boolean => value !== undefined && !NOT_KNOWN.includes(value);

/** An exception to one rule that is in force. */
export interface ActiveConcession {
  concessionId: string;
  ruleId: string;
  /** instant, RFC 3339 UTC */
  expiresAt: string;
  /** what it asks for */
  condition?: string | undefined;
}

/**
 * Adds what was seen to a judgement: a point marked not ok makes every rule that reads it not met there, whatever was
 * declared. A point marked ok changes no result: looking does not outweigh a value that is out of limits.
 *
 * @param concessions those in force: they cover what was seen just as they cover what was declared or measured
 */
export function withSeenPoints(
  judgement: Judgement,
  seen: readonly SeenPoint[],
  concessions: readonly ActiveConcession[] = [],
): Judgement {
  const bad = seen.filter((point) => point.result === 'not-ok');
  if (bad.length === 0) return judgement;
  const findings = judgement.findings.map((finding) => {
    if (!bad.some((point) => covers(point, finding))) return finding;
    return failed(
      finding,
      concessions.find((concession) => concession.ruleId === finding.ruleId),
    );
  });
  return { findings, verdict: verdictOf(findings) };
}

/** The findings the line must look at that no check clears. */
export function uncheckedFindings(
  findings: readonly Finding[],
  checked: readonly CheckedPoint[],
  valuesOf: ValuesOf,
): Finding[] {
  return findings.filter((finding) => finding.counts === 'inspect' && !isCleared(finding, checked, valuesOf));
}

/**
 * Whether the checks clear a finding. One that rests on a number is cleared by new values only, at each place it is about:
 * a tick is not a measurement. One that is to be measured and has no number is cleared by what is read off a label, else by a new
 * answer of each item.
 */
function isCleared(finding: Finding, checked: readonly CheckedPoint[], valuesOf: ValuesOf): boolean {
  // what was measured is inside of no limit that nobody knows; once the mark is read, the finding is judged with it
  if (finding.conceded === undefined && finding.facts?.some(mustBeRead)) return false;
  const open = (finding.facts ?? []).filter(({ why }) => why === 'unconfirmed');
  // once they are read, the finding is judged with what was read: here nothing but that is asked
  if (open.length > 0) return open.every(({ path }) => isRead(path, checked, valuesOf));
  const needed = finding.clearedBy === 'measure' ? placesToMeasure(finding, valuesOf) : [];
  if (needed.length === 0) return checked.some((point) => covers(point, finding));
  return needed.every((place) => isMeasured(place, checked) || isMeasuredInDetail(place, finding, checked, valuesOf));
}

function isMeasured({ item, position }: CheckedPoint, checked: readonly CheckedPoint[]): boolean {
  return checked.some((check) => check.measured && check.item === item && check.position === position);
}

/** Whether all places of an item that asks the same in more detail were measured: three of a tread are its lowest, too. */
function isMeasuredInDetail(
  { item, position }: CheckedPoint,
  finding: Finding,
  checked: readonly CheckedPoint[],
  valuesOf: ValuesOf,
): boolean {
  return finding.items.some((detail) => {
    const values = valuesOf(detail);
    if (values?.detailOf !== item) return false;
    const places = values.positions.filter((one) => isNear(one, position));
    return places.length > 0 && places.every((one) => isMeasured({ item: detail, position: one }, checked));
  });
}

/** Whether a number of the car was given at its place: a tick repeats what was written of it. */
function isRead(path: string, checked: readonly CheckedPoint[], valuesOf: ValuesOf): boolean {
  const { item } = itemOfFact(path);
  const position = placeOfFact(path, valuesOf(item)?.positions ?? []);
  return isMeasured({ item, position }, checked);
}

/**
 * The places at which new values clear a finding; none where nothing of it can be measured on this car. What asks the same in
 * more detail is not needed besides.
 */
export function placesToMeasure(
  finding: Finding,
  valuesOf: ValuesOf,
): { item: string; position?: string | undefined }[] {
  const items = finding.items.flatMap((item) => {
    const values = valuesOf(item);
    return values === undefined ? [] : [{ item, ...values }];
  });
  const numbers = items.filter(({ isNumber }) => isNumber);
  const labels = items.filter(({ isReadOff }) => isReadOff);
  const asked = numbers.length > 0 ? numbers : labels.length > 0 ? labels : items;
  const least = asked.filter(({ detailOf }) => asked.every(({ item }) => item !== detailOf));
  return least.flatMap(({ item, positions }) =>
    positions.filter((position) => isNear(position, finding.position)).map((position) => ({ item, position })),
  );
}

/** A check at a position covers findings at it and below it (`FL` covers `FL.in`), and whole-car findings of its item. */
function covers(point: CheckedPoint, finding: Finding): boolean {
  if (!finding.items.includes(point.item)) return false;
  return isNear(point.position, finding.position);
}

function concededBy({ concessionId, expiresAt, condition }: ActiveConcession): NonNullable<Finding['conceded']> {
  return condition === undefined ? { concessionId, expiresAt } : { concessionId, expiresAt, condition };
}

function failed(finding: Finding, concession: ActiveConcession | undefined): Finding {
  // A finding that was met does not carry the concession that covers its rule.
  const conceded = finding.conceded ?? (concession && concededBy(concession));
  const counts = finding.effect === 'bar' && conceded !== undefined ? 'inspect' : finding.effect;
  return {
    ...finding,
    result: 'not-met',
    counts,
    ...(conceded === undefined ? {} : { conceded }),
    source: 'measured',
    message: finding.message === '' ? `The inspector found "${finding.title}" not ok.` : finding.message,
    fix: finding.fix === '' ? 'Mend what the inspector showed you, then submit the declaration again.' : finding.fix,
  };
}

/**
 * What the line looks at on this car whatever was declared: the points that the group's rules name, in their order, with
 * the items that the car has. A list that is no list leaves all points: nothing falls away by a fault.
 */
export function alwaysLook(
  { ruleSet, parameters }: { ruleSet: RuleSet; parameters: Readonly<Record<string, ParameterOverride>> },
  vehicle: Vehicle,
): AlwaysLook[] {
  const named = bindParameter(ruleSet, parameters, ALWAYS_LOOK_PARAMETER)?.value;
  const points = ruleSet.alwaysLook ?? [];
  const wanted = Array.isArray(named) ? points.filter(({ id }) => named.includes(id)) : points;
  return wanted.flatMap((point) => {
    const items = point.items.filter((key) => {
      const item = findItem(key);
      return item !== undefined && itemApplies(item, vehicle);
    });
    return items.length === 0 ? [] : [{ ...point, items }];
  });
}

/** Of the points those that nobody looked at in full: each item once for the car, or at each of its places. */
export function notLookedAt(
  points: readonly AlwaysLook[],
  checked: readonly CheckedPoint[],
  vehicle: Vehicle,
): AlwaysLook[] {
  return points.flatMap((point) => {
    const items = point.items.filter((key) => !isLookedAt(key, checked, vehicle));
    return items.length === 0 ? [] : [{ ...point, items }];
  });
}

function isLookedAt(key: string, checked: readonly CheckedPoint[], vehicle: Vehicle): boolean {
  const item = findItem(key);
  const of = checked.filter((check) => check.item === key);
  const positions = (item && positionsFor(item, vehicle)) ?? [undefined];
  return positions.every((position) => of.some((check) => isNear(check.position, position)));
}
