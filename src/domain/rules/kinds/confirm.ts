import { type Judge, notMetFinding, unanswerableFinding } from '../judge/build-finding.ts';
import { MetKeeper } from '../judge/met-keeper.ts';
import { reading } from '../model/finding.ts';
import { readAnswer } from '../judge/run.ts';
import type { ConfirmTest } from '../model/test-schema.ts';
import { boundAnswer, checkAnswer } from './answer.ts';
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
