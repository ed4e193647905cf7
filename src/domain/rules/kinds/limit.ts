import type { Judge } from '../judge/build-finding.ts';
import { unanswerableFinding } from '../judge/build-finding.ts';
import { numberJudge } from '../judge/reliability.ts';
import { readAnswer } from '../judge/run.ts';
import type { LimitTest } from '../model/test-schema.ts';
import { type AnswerOf, boundAnswer, checkAnswer, typeOfAnswer } from './answer.ts';
import type { Binder, Kind } from './kind.ts';
import { bindLimit, checkLimit, distance, keepText, lacking } from './limits.ts';

function bind(test: LimitTest, binder: Binder): Judge {
  const { head } = binder;
  const place = boundAnswer(test, binder);
  // the check has refused items that are not answered by a number
  const number = typeOfAnswer(place.item, test.field) as AnswerOf<'number'>;
  const { unit, decimals } = number;
  const atLeast = test.atLeast !== undefined;
  const asked = test.atLeast ?? test.atMost;
  if (asked === undefined) throw new Error('a limit without a limit');
  const limit = bindLimit(binder, asked, number);
  const sign = atLeast ? (test.strict ? '>' : '≥') : test.strict ? '<' : '≤';
  const strict = test.strict === true;
  const judge = numberJudge(head, number, binder.rule.decision ?? 'simple', place);
  const textOf = keepText(`${sign} `, unit);
  const fixedText = limit.fixed === undefined ? undefined : textOf(limit.fixed);
  return (run) => {
    const value = readAnswer(run, place);
    const bound = limit.fixed ?? limit.value(run);
    if (typeof value !== 'number' || bound === undefined) {
      const missing = typeof value === 'number' ? [] : [place];
      const says = bound === undefined ? [lacking(limit)] : [];
      return unanswerableFinding(head, run, [...missing, ...says], fixedText);
    }
    const text = fixedText ?? textOf(bound);
    const margin = atLeast ? distance(bound, value, decimals) : distance(value, bound, decimals);
    // the sign of a difference is exact, and as a number it is not called through a table
    const inside = atLeast ? value - bound : bound - value;
    const isMet = strict ? inside > 0 : inside >= 0;
    return judge(run, value, isMet, margin, text, atLeast ? bound : undefined, atLeast ? undefined : bound);
  };
}

/** A number at least, at most, more than or less than a limit. */
export const LIMIT: Kind<LimitTest> = {
  check(test, checker) {
    const number = checkAnswer(test, checker, ['number']);
    const path = test.atLeast === undefined ? '/atMost' : '/atLeast';
    const limit = test.atLeast ?? test.atMost;
    if (number !== undefined && limit !== undefined) checkLimit(checker, path, limit, number);
  },
  bind,
};
