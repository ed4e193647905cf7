import type { SimpleAnswerType } from '../../catalogue/item.ts';
import { conformityProbability, roundTo, type Unit } from '../../quantity.ts';
import { type ReadWith, readWithAt, uncertaintyIn } from '../../line/instruments.ts';
import type { JudgeInput, Run } from '../judge/run.ts';
import { type Binder, boundAnswer, typeOfAnswer } from '../kinds/answer.ts';
import { bindLimit } from '../kinds/limit.ts';
import type { Decision, Rule } from '../model/rule-set.ts';
import type { LimitTest, RangeTest } from '../model/test-schema.ts';
import { cellKey } from '../../declaration/read-answer.ts';
import { DEFAULT_LANGUAGE } from '../../language.ts';
import { placeOfRule } from '../says/says.ts';
import { bindRule, type BoundRule, runOf } from './explain-binder.ts';
import type { CompiledRuleSet } from '../judge/evaluate.ts';
import type { Finding } from '../model/finding.ts';

type NumberType = Extract<SimpleAnswerType, { kind: 'number' }>;

/** The limits of a number at one place of one car, and how a rule decides near them; all in `unit`. */
interface GuardedLimit {
  unit: Unit;
  decision: Decision;
  atLeast?: number | undefined;
  atMost?: number | undefined;
}

/** How sure one reading is, beside the limit it was compared with. Numbers are in `unit`. */
export interface Certainty extends GuardedLimit {
  value: number;
  /** expanded uncertainty U, k = 2 */
  uncertainty: number;
  instrument: string;
  /** `usual`: nobody named an instrument, it is what such values are usually read with */
  by: 'usual' | ReadWith['by'];
  /** by how much the limit was moved to the safe side for this reading: U or 0 */
  guardBand: number;
  /** probability that the true value is inside the limit, 0 to 1: JCGM 106, 7.2 to 7.4 */
  conformity: number;
}

/** The limits that a rule holds a number of an item against; undefined for other tests, and where no limit is known. */
function guardedLimit({ test, decision = 'simple' }: Rule, binder: Binder, run: Run): GuardedLimit | undefined {
  if (test.kind !== 'limit' && test.kind !== 'range') return undefined;
  const number = numberOf(test, binder);
  const bound = (limit: LimitTest['atLeast'] | RangeTest['from']) =>
    limit === undefined ? undefined : bindLimit(binder, limit, number).value(run);
  const [low, high] = test.kind === 'range' ? [test.from, test.to] : [test.atLeast, test.atMost];
  const [atLeast, atMost] = [bound(low), bound(high)];
  if (atLeast === undefined && atMost === undefined) return undefined;
  return { unit: number.unit, decision, atLeast, atMost };
}

// the check has refused items that are not answered by a number
const numberOf = (test: LimitTest | RangeTest, binder: Binder): NumberType =>
  typeOfAnswer(boundAnswer(test, binder).item, test.field) as NumberType;

/**
 * How sure the reading of a rule is; undefined where it judges no number, or nobody knows how good such a reading is.
 *
 * @param value in the item's unit, as judged
 */
export function certaintyOf(rule: Rule, binder: Binder, run: Run, value: number | undefined): Certainty | undefined {
  const { test } = rule;
  if (value === undefined || (test.kind !== 'limit' && test.kind !== 'range')) return undefined;
  const limit = guardedLimit(rule, binder, run);
  if (limit === undefined) return undefined;
  const { cell } = boundAnswer(test, binder);
  const isMeasured = run.measured?.has(cell) === true;
  const good = goodness(
    numberOf(test, binder),
    isMeasured && run.measured ? readWithAt(run.measured, cell) : undefined,
  );
  if (good === undefined) return undefined;
  const guards = limit.decision === 'guarded' || (limit.decision === 'shared' && !isMeasured);
  const conformity = conformityProbability(value, good.uncertainty / 2, limit);
  return { ...limit, value, ...good, guardBand: guards ? good.uncertainty : 0, conformity: roundTo(conformity, 3) };
}

function goodness(
  { unit, uncertainty }: NumberType,
  readWith: ReadWith | undefined,
): Pick<Certainty, 'uncertainty' | 'instrument' | 'by'> | undefined {
  const named = readWith && uncertaintyIn(unit, readWith);
  if (readWith !== undefined && named !== undefined) {
    return { uncertainty: named, instrument: readWith.name, by: readWith.by };
  }
  if (uncertainty === undefined) return undefined;
  return { uncertainty: uncertainty.expanded, instrument: uncertainty.instrument, by: 'usual' };
}

/** One limit that a number at a point is held against. */
export interface PointLimit extends GuardedLimit {
  title: string;
  /** of an answer that has parts */
  part?: string | undefined;
}

/**
 * What the rules hold the numbers of a car against, by the place at which each is read (`pad.thickness@FL.in`). A rule on
 * trial is none, one that does not apply here, and one of which no limit is known on this car.
 *
 * @param findings all that the rules found, met ones too: where there is none, the rule does not apply
 */
export function pointLimits(
  compiled: CompiledRuleSet,
  input: JudgeInput,
  { findings, language = DEFAULT_LANGUAGE }: { findings: readonly Finding[]; language?: string },
): Map<string, PointLimit[]> {
  const run = runOf(input);
  const found = new Set(findings.map(({ ruleId, position }) => placeOfRule(ruleId, position)));
  const limits = new Map<string, PointLimit[]>();
  for (const one of compiled.rules) {
    const { rule } = one;
    if (rule.watch || (rule.test.kind !== 'limit' && rule.test.kind !== 'range')) continue;
    const bound = bindRule(compiled, one, input);
    for (const position of bound.positions) {
      if (!found.has(placeOfRule(rule.id, position))) continue;
      const { place, limit } = limitAt(bound, position, { run, language });
      if (limit !== undefined) limits.set(place, [...(limits.get(place) ?? []), limit]);
    }
  }
  return limits;
}

function limitAt(
  { rule, binder: bind }: BoundRule,
  position: string | undefined,
  { run, language }: { run: Run; language: string },
): { place: string; limit: PointLimit | undefined } {
  const { test } = rule;
  const binder = bind(position);
  const limit = guardedLimit(rule, binder, run);
  if (limit === undefined || (test.kind !== 'limit' && test.kind !== 'range')) return { place: '', limit: undefined };
  const [place = ''] = boundAnswer(test, binder).cell.split('#');
  const title = rule.texts?.[language]?.title ?? rule.title;
  return { place, limit: { ...limit, title, ...(test.field !== undefined && { part: test.field }) } };
}

/** The name of a point among them. */
export const placeOfPoint = ({ item, position }: { item: string; position?: string | undefined }): string =>
  cellKey(item, position);
