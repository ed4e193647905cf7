import { type Judge, metFinding, notMetFinding, unanswerableFinding } from '../judge/build-finding.ts';
import { MetKeeper } from '../judge/reliability.ts';
import { readAnswer } from '../judge/run.ts';
import { quantity, reading } from '../model/finding.ts';
import type { ConfirmTest, OneOfTest, PhotoTest } from '../model/test-schema.ts';
import { type Binder, boundAnswer, checkAnswer, checkItem, type Kind, type KindChecker } from './answer.ts';
import type { CelValue } from '../cel/types.ts';
import { kindOf } from '../model/parameter-values.ts';
import { checkParameter } from './limit.ts';

function bindConfirm(test: ConfirmTest, binder: Binder): Judge {
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
  bind: bindConfirm,
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

function checkValues(test: OneOfTest, checker: KindChecker, options: readonly string[] | undefined): void {
  const isList = Array.isArray(test.values);
  const path = isList ? '/values' : '/values/parameter';
  let values: readonly string[] = [];
  if (Array.isArray(test.values)) values = test.values;
  else {
    const parameter = checkParameter(checker, path, test.values.parameter);
    if (parameter === undefined) return;
    if (kindOf(parameter.value) !== 'list' || !Array.isArray(parameter.value)) {
      return checker.fault(path, 'type-clash', `parameter ${JSON.stringify(test.values.parameter)} is not a list`);
    }
    values = parameter.value;
    if (options !== undefined) checker.uses.options.push({ parameter: test.values.parameter, options });
  }
  values.forEach((value, index) => {
    if (options === undefined || options.includes(value)) return;
    const at = isList ? `${path}/${index}` : path;
    checker.fault(at, 'unknown-option', `${JSON.stringify(value)} is not an option; there are ${options.join(', ')}`);
  });
}

/** Nothing chosen is not "all chosen are accepted": an empty choice meets `none-of` only. */
function allHold(negate: boolean, values: ReadonlySet<unknown>, chosen: readonly CelValue[]): boolean {
  if (negate) return !chosen.some((one) => values.has(one));
  return chosen.length > 0 && chosen.every((one) => values.has(one));
}

function bindOneOf(test: OneOfTest, binder: Binder): Judge {
  const { head } = binder;
  const place = boundAnswer(test, binder);
  const bound = Array.isArray(test.values) ? test.values : binder.parameter(test.values.parameter)?.value;
  if (!Array.isArray(bound)) {
    const name = Array.isArray(test.values) ? '' : test.values.parameter;
    return (run) =>
      unanswerableFinding(head, run, [{ says: `Parameter "${name}" has no usable value`, inspectorOnly: false }]);
  }
  const values = new Set<unknown>(bound);
  const text = `${test.kind === 'one-of' ? 'one of' : 'none of'}: ${bound.join(', ')}`;
  const keeper = new MetKeeper(head, text);
  const negate = test.kind === 'none-of';
  return (run) => {
    const answer = readAnswer(run, place);
    if (typeof answer === 'string') {
      const kept = keeper.find(run, answer);
      if (kept !== undefined) return kept;
      if (values.has(answer) !== negate) return keeper.met(run, answer);
      return notMetFinding(head, run, reading(answer), text, undefined);
    }
    if (!Array.isArray(answer)) return unanswerableFinding(head, run, [place], text);
    const chosen: readonly CelValue[] = answer;
    const make = allHold(negate, values, chosen) ? metFinding : notMetFinding;
    return make(head, run, reading(chosen.join(', ')), text, undefined);
  };
}

/** A choice, several choices or a text that is in a list, or is not. */
export const ONE_OF: Kind<OneOfTest> = {
  check(test, checker) {
    const type = checkAnswer(test, checker, ['choice', 'choices', 'text']);
    if (type !== undefined) checkValues(test, checker, type.kind === 'text' ? undefined : type.options);
  },
  bind: bindOneOf,
};
