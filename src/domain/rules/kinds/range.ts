import { type Judge, unanswerableFinding } from '../judge/build-finding.ts';
import { numberJudge } from '../judge/reliability.ts';
import { readAnswer } from '../judge/run.ts';
import type { RangeTest } from '../model/test-schema.ts';
import { type AnswerOf, boundAnswer, checkAnswer, typeOfAnswer } from './answer.ts';
import type { Binder, Kind } from './kind.ts';
import { bindLimit, checkLimit, distance, keepText, lacking } from './limits.ts';

function bind(test: RangeTest, binder: Binder): Judge {
  const { head } = binder;
  const place = boundAnswer(test, binder);
  // the check has refused items that are not answered by a number
  const number = typeOfAnswer(place.item, test.field) as AnswerOf<'number'>;
  const { unit, decimals } = number;
  const low = bindLimit(binder, test.from, number);
  const high = bindLimit(binder, test.to, number);
  const lowText = keepText('', unit);
  const highText = keepText(' to ', unit);
  const judge = numberJudge(head, number, binder.rule.decision ?? 'simple', place);
  let text = '';
  let lastFrom: number | undefined;
  let lastTo: number | undefined;
  return (run) => {
    const value = readAnswer(run, place);
    const from = low.fixed ?? low.value(run);
    const to = high.fixed ?? high.value(run);
    if (typeof value !== 'number' || from === undefined || to === undefined) {
      const missing = [low, high].filter((limit) => limit.fixed === undefined && limit.value(run) === undefined);
      const says = missing.map(lacking);
      return unanswerableFinding(head, run, [...(typeof value === 'number' ? [] : [place]), ...says]);
    }
    if (from !== lastFrom || to !== lastTo) {
      text = lowText(from) + highText(to);
      [lastFrom, lastTo] = [from, to];
    }
    const margin = Math.min(distance(from, value, decimals), distance(value, to, decimals));
    const isMet = value >= from && value <= to;
    return judge(run, value, isMet, margin, text, from, to);
  };
}

/** A number between two limits, both included. */
export const RANGE: Kind<RangeTest> = {
  check(test, checker) {
    const number = checkAnswer(test, checker, ['number']);
    if (number === undefined) return;
    checkLimit(checker, '/from', test.from, number);
    checkLimit(checker, '/to', test.to, number);
  },
  bind,
};
