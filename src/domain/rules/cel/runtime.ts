import type { CelValue } from './types.ts';

type Answer = boolean | undefined;

/** `-0` becomes `0`: whole numbers have one zero. */
const whole = (value: number): number | undefined => (Number.isSafeInteger(value) ? value + 0 : undefined);

/**
 * What generated code calls. `undefined` means "no answer" throughout: overflow, division by zero, a value that is
 * not known. Whole numbers stay within ±(2^53 − 1); decimals that leave the finite range have no answer, where the
 * language itself would go on with infinity: an impossible number must not pass a check.
 */
export const CEL_RUNTIME = {
  finite: (value: number): number | undefined => (Number.isFinite(value) ? value : undefined),
  add: (left: number, right: number) => whole(left + right),
  subtract: (left: number, right: number) => whole(left - right),
  multiply: (left: number, right: number) => whole(left * right),
  divide: (left: number, right: number) => (right === 0 ? undefined : whole(Math.trunc(left / right))),
  remainder: (left: number, right: number) => (right === 0 ? undefined : whole(left % right)),

  /** false as soon as one is false; else no answer if one has none */
  all(keys: readonly string[], holds: (key: string) => Answer): Answer {
    let answer: Answer = true;
    for (const key of keys) {
      const one = holds(key);
      if (one === false) return false;
      if (one === undefined) answer = undefined;
    }
    return answer;
  },
  exists(keys: readonly string[], holds: (key: string) => Answer): Answer {
    let answer: Answer = false;
    for (const key of keys) {
      const one = holds(key);
      if (one === true) return true;
      if (one === undefined) answer = undefined;
    }
    return answer;
  },
  /** counts, so that one without an answer leaves the whole without */
  existsOne(keys: readonly string[], holds: (key: string) => Answer): Answer {
    const answers = keys.map(holds);
    return answers.includes(undefined) ? undefined : answers.filter((one) => one === true).length === 1;
  },
  /** a step over all values of a map; no answer when one is missing or there is none */
  fold(
    keys: readonly string[],
    get: (key: string) => CelValue | undefined,
    step: (values: never[]) => CelValue | undefined,
  ) {
    const values = keys.map(get);
    if (values.length === 0 || values.includes(undefined)) return undefined;
    // the checker lets only maps of numbers come here
    return step(values as never[]);
  },
};
export type CelRuntime = typeof CEL_RUNTIME;
