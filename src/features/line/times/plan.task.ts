import {
  type CarToPlace,
  inspectorsMissing,
  opensEarlier,
  planLine,
  SAFE_SHARE,
} from '../../../domain/foresight/line-times.ts';
import type { Shift } from '../../../domain/foresight/line-day.ts';
import { defineThreadTask } from '../../../platform/threads/thread.ts';

/** Times for all cars, what comes of them, and who would have to be there besides. */
interface PlannedLine {
  times: { id: string; at: number }[];
  meanWait: number;
  allInTime: number;
  missing: number;
  missShares: ReadonlyMap<string, number>;
  /** undefined: more than ten would not do */
  inspectorsMissing: number | undefined;
  /** minutes; undefined: four hours would not do */
  opensEarlier: number | undefined;
}

export const planTask = defineThreadTask<{ cars: readonly CarToPlace[]; shifts: readonly Shift[] }, PlannedLine>({
  name: 'line.plan',
  processorMs: 8000,
  clockMs: 40_000,
  run({ cars, shifts }) {
    const { times, meanWait, allInTime, missing, missShares } = planLine(cars, shifts);
    const isSafe = allInTime >= SAFE_SHARE;
    return {
      times: [...times],
      meanWait,
      allInTime,
      missing,
      missShares,
      inspectorsMissing: isSafe ? 0 : inspectorsMissing(cars, shifts),
      opensEarlier: isSafe ? 0 : opensEarlier(cars, shifts),
    };
  },
});
