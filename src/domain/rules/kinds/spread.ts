import { findItem } from '../../catalogue/catalogue.ts';
import { type Judge, metFinding, notMetFinding, unanswerableFinding } from '../judge/build-finding.ts';
import { quantity } from '../model/finding.ts';
import { enclosing, relate } from '../model/rule-each.ts';
import { type AnswerPlace, isByLowest, readOwn, type Run } from '../judge/run.ts';
import type { SpreadTest } from '../model/test-schema.ts';
import { type AnswerOf, answerPlace, checkAnswer, typeOfAnswer } from './answer.ts';
import { guardImplausible } from './implausible.ts';
import type { Binder, Kind } from './kind.ts';
import { bindLimit, checkLimit, distance, keepText, lacking } from './limits.ts';

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
