import { type ComingCar, type Day, runDay } from '../../../src/domain/foresight/line-day.ts';
import { baileyWelch, planLine, SAFE_SHARE, spaceOut, USUAL_HABITS } from '../../../src/domain/foresight/line-times.ts';
import { makeMorning, type Morning, type MorningKind } from './line-world.ts';

const SHIFT_MINUTES = 600;

/** The morning as it really is, with times that were told; without times everybody comes as he likes. */
function live({ cars, inspectors }: Morning, times?: ReadonlyMap<string, number>): Day {
  const coming = cars.map((car): ComingCar => {
    const told = times?.get(car.id);
    const comesAt = told === undefined ? Math.max(0, car.comesUntold) : told + car.lateBy;
    return {
      comesAt: car.isAbsent ? undefined : comesAt,
      minutes: car.serviceMinutes,
      turn: told ?? comesAt,
      dueAt: car.sessionAt,
    };
  });
  return runDay(coming, [{ from: 0, to: SHIFT_MINUTES, inspectors }]);
}

const waitOf = (days: readonly Day[]) => {
  const waits = days.flatMap(({ waits }) => waits.filter((wait) => wait !== undefined));
  return waits.reduce((sum, wait) => sum + wait, 0) / Math.max(1, waits.length);
};
const inTime = (days: readonly Day[]) => days.filter(({ missed }) => missed === 0).length / days.length;

/** Mornings of one kind under three rules; waits in minutes, shares of mornings on which everybody was done in time. */
export function reportLine(kind: MorningKind, seeds: readonly number[]) {
  const results = seeds.map((seed) => {
    const morning = makeMorning(seed, kind);
    const cars = morning.cars.map(({ id, sessionAt, meanMinutes }) => ({ id, dueAt: sessionAt, meanMinutes }));
    const shifts = [{ from: 0, to: SHIFT_MINUTES, inspectors: morning.inspectors }];
    const plan = planLine(cars, shifts, {
      habits: { ...USUAL_HABITS, absent: kind.absent, late: kind.late },
      seed: 77,
    });
    const timesOf = (times: readonly { id: string; at: number }[]) => new Map(times.map(({ id, at }) => [id, at]));
    return {
      isCalledSafe: plan.allInTime >= SAFE_SHARE,
      ours: live(morning, timesOf(plan.times)),
      rule: live(morning, timesOf(spaceOut(cars, shifts, baileyWelch(morning.inspectors)))),
      untold: live(morning),
    };
  });
  const of = (days: readonly Day[]) => ({ wait: waitOf(days), inTime: inTime(days) });
  const safe = results.filter(({ isCalledSafe }) => isCalledSafe);
  return {
    ours: of(results.map(({ ours }) => ours)),
    rule: of(results.map(({ rule }) => rule)),
    untold: of(results.map(({ untold }) => untold)),
    calledSafe: safe.length / results.length,
    inTimeOfCalledSafe: inTime(safe.map(({ ours }) => ours)),
  };
}
