import { findItem } from '../../catalogue/catalogue.ts';
import type { Item } from '../../catalogue/item.ts';
import {
  type Judge,
  metFinding,
  notMetFinding,
  unanswerableFinding,
  unreliableFinding,
} from '../judge/build-finding.ts';
import { unreliableTexts } from '../judge/reliability.ts';
import { type AnswerPlace, isByLowest, peekDeclared, readOwn, type Run } from '../judge/run.ts';
import { quantity } from '../model/finding.ts';
import { enclosing, relate } from '../model/rule-each.ts';
import { type AnswerOf, answerPlace, type Binder, checkAnswer, type Kind, typeOfAnswer } from './answer.ts';
import type { SpreadTest } from '../model/test-schema.ts';
import { bindLimit, checkLimit, distance, keepText, lacking } from './limit.ts';

/** A number that a rule may have gone by, and what such a number usually is. */
interface Watched {
  place: AnswerPlace;
  type: AnswerOf<'number'>;
  from: number;
  to: number;
}

/** The positions of an item that a rule sees where it runs: its own, those within it, or all where it runs once. */
function positionsSeen(item: Item, { each, position, positionsOf }: Binder): readonly (string | undefined)[] {
  const { positions } = item;
  if (positions === undefined) return [undefined];
  const all = positionsOf(item.key);
  if (each === undefined || position === undefined) return all;
  switch (relate(positions, each)) {
    case 'unrelated':
      return all;
    case 'finer':
      return all.filter((one) => enclosing(one, positions, each) === position);
    default: {
      const single = enclosing(position, each, positions);
      return all.filter((one) => one === single);
    }
  }
}

function numbersOf(item: Item): { field: string | undefined; type: AnswerOf<'number'> }[] {
  const { answer } = item;
  if (answer.kind === 'number') return [{ field: undefined, type: answer }];
  if (answer.kind !== 'fields') return [];
  return Object.entries(answer.fields).flatMap(([field, { type }]) =>
    type.kind === 'number' ? [{ field, type }] : [],
  );
}

function watchedBy(binder: Binder): Watched[] {
  const items = binder.rule.items.flatMap((key) => findItem(key) ?? []);
  return items.flatMap((item) =>
    numbersOf(item).flatMap(({ field, type }) => {
      if (type.plausible === undefined) return [];
      const [from, to] = type.plausible;
      return positionsSeen(item, binder).map((position) => {
        const place = answerPlace(item, position, field, binder.slots);
        return { place, type, from, to };
      });
    }),
  );
}

/** The cells that a test looks for, also those behind what is derived for it. */
function cellsRead(judge: Judge, run: Run): ReadonlySet<string> {
  const { touched, derived, source } = run;
  const cells = new Set<string>();
  run.touched = cells;
  run.derived = new Map();
  try {
    judge(run);
  } finally {
    run.touched = touched;
    run.derived = derived;
    run.source = source;
  }
  return cells;
}

/**
 * A judge that a number which is hardly possible does not satisfy: what comes of it in a calculation looks like any other
 * number, so it is held against what is usual before anything is computed of it counts. What was measured at the line counts.
 */
export function guardImplausible(judge: Judge, binder: Binder): Judge {
  const watched = watchedBy(binder);
  if (watched.length === 0) return judge;
  const { head } = binder;
  return (run) => {
    const finding = judge(run);
    if (finding === undefined || finding.result !== 'met') return finding;
    for (const { place, type, from, to } of watched) {
      const value = peekDeclared(run, place);
      if (typeof value !== 'number' || (value >= from && value <= to)) continue;
      // what the rule names and this test does not go by decides nothing
      if (!cellsRead(judge, run).has(place.cell)) continue;
      const why = { kind: 'implausible', from, to } as const;
      const { limit = '', margin } = finding;
      const texts = unreliableTexts(value, type.unit, limit, why);
      return unreliableFinding(head, run, quantity(value, type.unit), finding.limit, margin, why, texts);
    }
    return finding;
  };
}

/** The smallest and the largest, or the places that have no number; none at all is no number either. */
function readAll(run: Run, places: readonly AnswerPlace[]): { low: number; high: number } | AnswerPlace[] {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  const missing: AnswerPlace[] = [];
  for (const place of places) {
    const value = readOwn(run, place);
    if (typeof value !== 'number') missing.push(place);
    else {
      low = Math.min(low, value);
      high = Math.max(high, value);
    }
  }
  return missing.length > 0 || places.length === 0 ? missing : { low, high };
}

const bind = (test: SpreadTest, binder: Binder): Judge => guardImplausible(bindPlain(test, binder), binder);

function bindPlain(test: SpreadTest, binder: Binder): Judge {
  const { head, each, position } = binder;
  const item = findItem(test.item);
  if (item?.positions === undefined) throw new Error(`no positions of ${test.item}`);
  const scheme = item.positions;
  if (each !== undefined && relate(scheme, each) !== 'finer')
    throw new Error(`no spread of ${item.key} within ${each}`);
  // the check has refused items that are not answered by a number
  const number = typeOfAnswer(item, test.field) as AnswerOf<'number'>;
  const places = binder
    .positionsOf(item.key)
    .filter((one) => each === undefined || enclosing(one, scheme, each) === position)
    .map((one) => answerPlace(item, one, test.field, binder.slots));
  const limit = bindLimit(binder, test.atMost, number, true);
  const textOf = keepText('spread ≤ ', number.unit);
  const text = limit.fixed === undefined ? undefined : textOf(limit.fixed);
  return (run) => {
    // a difference is not asked of who gave the lowest value alone
    if (places.some((place) => isByLowest(run, place))) return undefined;
    const read = readAll(run, places);
    const bound = limit.fixed ?? limit.value(run);
    if (Array.isArray(read) || bound === undefined) {
      const says = bound === undefined ? [lacking(limit)] : [];
      return unanswerableFinding(head, run, [...(Array.isArray(read) ? read : []), ...says], text);
    }
    const spread = distance(read.low, read.high, number.decimals);
    const measured = quantity(spread, number.unit);
    const margin = quantity(distance(spread, bound, number.decimals), number.unit);
    const says = text ?? textOf(bound);
    return spread <= bound
      ? metFinding(head, run, measured, says, margin)
      : notMetFinding(head, run, measured, says, margin);
  };
}

/** Largest minus smallest over all positions of an item, or within each wheel. Needs every position. */
export const SPREAD: Kind<SpreadTest> = {
  check(test, checker) {
    const number = checkAnswer(test, checker, ['number']);
    if (number === undefined) return;
    checkLimit(checker, '/atMost', test.atMost, number);
    const scheme = findItem(test.item)?.positions;
    if (scheme === undefined)
      checker.fault('/item', 'each-mismatch', `${JSON.stringify(test.item)} has no positions to spread over`);
    else if (checker.each !== undefined && relate(scheme, checker.each) !== 'finer') {
      checker.fault(
        '/within',
        'each-mismatch',
        `${JSON.stringify(test.item)} has one value per ${checker.each}: no spread within it`,
      );
    }
  },
  bind,
};
