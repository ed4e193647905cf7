import { metFinding, notMetFinding } from '../judge/build-finding.ts';
import { quantity } from '../model/finding.ts';
import type { PhotoTest } from '../model/test-schema.ts';
import { checkItem } from './answer.ts';
import type { Kind } from './kind.ts';

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
