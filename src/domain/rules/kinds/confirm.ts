import { type Judge, metFinding, notMetFinding, unanswerableFinding } from '../judge/build-finding.ts';
import { MetKeeper } from '../judge/met-keeper.ts';
import { readAnswer } from '../judge/run.ts';
import { quantity, reading } from '../model/finding.ts';
import type { ConfirmTest, PhotoTest } from '../model/test-schema.ts';
import { boundAnswer, checkAnswer, checkItem } from './answer.ts';
import type { Binder, Kind } from './kind.ts';

function bind(test: ConfirmTest, binder: Binder): Judge {
  const { head } = binder;
  const place = boundAnswer(test, binder);
  const expected = test.expect ?? true;
  const text = expected ? 'yes' : 'no';
  const keeper = new MetKeeper(head, text);
  return (run) => {
    const answer = readAnswer(run, place);
    if (typeof answer !== 'boolean') return unanswerableFinding(head, run, [place], text);
    return answer === expected ? keeper.met(run, answer) : notMetFinding(head, run, reading(answer), text, undefined);
  };
}

/** A confirmation that is given; a yes/no that is as it must be. */
export const CONFIRM: Kind<ConfirmTest> = {
  check(test, checker) {
    const type = checkAnswer(test, checker, ['confirm', 'yes-no']);
    if (type?.kind === 'confirm' && test.expect === false) {
      checker.fault(
        '/expect',
        'type-clash',
        'a confirmation can only be asked for; only a yes/no can be expected to be no',
      );
    }
  },
  bind,
};

/** So many evidence photos of an item. None sent is an answer: it is not met. */
export const PHOTO: Kind<PhotoTest> = {
  check(test, checker) {
    checkItem(test, checker);
  },
  bind(test, { head }) {
    const limit = `≥ ${test.atLeast} photo${test.atLeast === 1 ? '' : 's'}`;
    return (run) => {
      if (run.touched !== undefined) run.touched.add(test.item);
      const photos = run.photos !== undefined && Object.hasOwn(run.photos, test.item) ? run.photos[test.item] : 0;
      const value = typeof photos === 'number' && photos >= 0 ? photos : 0;
      const measured = quantity(value, '1');
      const margin = quantity(value - test.atLeast, '1');
      return value >= test.atLeast
        ? metFinding(head, run, measured, limit, margin)
        : notMetFinding(head, run, measured, limit, margin);
    };
  },
};
