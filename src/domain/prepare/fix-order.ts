import { type Wheel, WHEELS } from '../catalogue/item.ts';
import type { Finding } from '../rules/model/finding.ts';
import { fewestJobs } from './fewest-jobs.ts';
import {
  JOB_ORDER,
  OPEN_MINUTES,
  type Opening,
  OPENINGS,
  PART_DAYS,
  type Part,
  type Work,
  workOf,
} from './work-table.ts';

/** What ordering reads of a finding. */
export type ToFix = Pick<Finding, 'ruleId' | 'result' | 'counts' | 'items'> & {
  position?: string | undefined;
  facts?: readonly unknown[] | undefined;
};

/** What is done in one go behind one opening. */
export interface Job<F extends ToFix> {
  job: string;
  /** where a wheel comes off for it; none: it has no place at a wheel */
  wheels: readonly Wheel[];
  /** without the opening */
  minutes: number;
  /** what it may need */
  part: Part | undefined;
  /** why: the worst of them first, as they were given */
  findings: readonly F[];
}

/** One thing that is opened, or one axle whose wheels come off, with all that is done there. */
export interface FixStep<F extends ToFix> {
  opening: Opening;
  axle: 'front' | 'rear' | undefined;
  /** of `wheels`: those that come off */
  wheels: readonly Wheel[];
  /** with opening and closing, once */
  minutes: number;
  jobs: readonly Job<F>[];
}

/** A part that may have to be waited for. */
export interface PartToOrder<F extends ToFix> {
  part: Part;
  /** how long it is mostly waited for, days */
  days: number;
  findings: readonly F[];
}

export interface FixOrder<F extends ToFix> {
  /** what is waited for longest comes first: the waiting goes on while all else is done */
  order: readonly PartToOrder<F>[];
  steps: readonly FixStep<F>[];
  /** about facts of the car that the inspector reads off it: no work for whoever prepares it */
  toRead: readonly F[];
  /** of all steps */
  minutes: number;
  /** what it saves that each thing is opened once, minutes */
  saves: number;
}

const axleOf = (wheel: Wheel): 'front' | 'rear' => (wheel.startsWith('F') ? 'front' : 'rear');

/** The wheels of a position; all of them where it says nothing about it. */
function wheelsAt(position: string | undefined, pair: boolean): Wheel[] {
  const place = position?.split('.')[0];
  if (place === 'front' || place === 'rear') return WHEELS.filter((wheel) => axleOf(wheel) === place);
  const wheel = WHEELS.find((one) => one === place);
  if (wheel === undefined) return [...WHEELS];
  return pair ? WHEELS.filter((one) => axleOf(one) === axleOf(wheel)) : [wheel];
}

interface Placed<F extends ToFix> {
  work: Work;
  axle: 'front' | 'rear' | undefined;
  wheels: readonly Wheel[];
  finding: F | undefined;
}

/** An answer that is only missing is given, on the phone, before anything is taken apart for it. */
const ANSWER: Work = { job: 'answer', opening: 'answer', minutes: 1 };

function place<F extends ToFix>(finding: F): Placed<F>[] {
  if (finding.result === 'unanswerable') return [{ work: ANSWER, axle: undefined, wheels: [], finding }];
  const work = workOf(finding.items[0] ?? '');
  if (work.opening !== 'wheels') return [{ work, axle: undefined, wheels: [], finding }];
  const wheels = wheelsAt(finding.position, work.pair === true);
  return (['front', 'rear'] as const).flatMap((axle) => {
    const own = wheels.filter((wheel) => axleOf(wheel) === axle);
    return own.length === 0 ? [] : [{ work, axle, wheels: own, finding }];
  });
}

const WEIGHT = { bar: 0, inspect: 1, advise: 2, no: 3 } as const;

/** The same with the fewest jobs: what is done along the way by another job there stands with that one. */
function withFewest<F extends ToFix>(placed: readonly Placed<F>[]): Placed<F>[] {
  const faults = placed.flatMap((one) => {
    const { work, axle, wheels, finding } = one;
    const at = wheels.length === 0 ? [undefined] : wheels;
    return at.map((wheel) => ({ one, work, axle, wheel, weight: WEIGHT[finding?.counts ?? 'no'] }));
  });
  const jobs = fewestJobs(faults);
  const works = new Map(faults.map(({ work, wheel }) => [`${work.job} ${wheel ?? ''}`, work]));
  const done = faults.map(({ one, wheel, work }, at) => ({
    one,
    wheel,
    work: works.get(`${jobs[at] ?? work.job} ${wheel ?? ''}`) ?? work,
  }));
  return placed.flatMap((one) => {
    const own = groupedBy(
      done.filter((part) => part.one === one),
      ({ work }) => work,
    );
    return [...own].map(([work, parts]) => ({
      ...one,
      work,
      wheels: parts.flatMap(({ wheel }) => (wheel === undefined ? [] : [wheel])),
    }));
  });
}

/** What follows from a job: brakes that were opened are bled, wheels that were off are tightened. */
function follows<F extends ToFix>(placed: readonly Placed<F>[]): Placed<F>[] {
  const also = (item: string): Placed<F> => ({
    work: workOf(item),
    axle: undefined,
    wheels: [],
    finding: undefined,
  });
  const bleeds = placed.some(({ work }) => work.bleeds === true) ? [also('brake.pedal')] : [];
  const tightens = placed.some(({ work }) => work.opening === 'wheels') ? [also('wheel.torque')] : [];
  return [...bleeds, ...tightens];
}

const sorted = (wheels: Iterable<Wheel>): Wheel[] => {
  const has = new Set(wheels);
  return WHEELS.filter((wheel) => has.has(wheel));
};

function groupedBy<T, K>(all: readonly T[], keyOf: (one: T) => K): Map<K, T[]> {
  const groups = new Map<K, T[]>();
  for (const one of all) groups.set(keyOf(one), [...(groups.get(keyOf(one)) ?? []), one]);
  return groups;
}

function jobsOf<F extends ToFix>(placed: readonly Placed<F>[]): Job<F>[] {
  const byJob = groupedBy(placed, ({ work }) => work.job);
  const rank = ({ job }: Job<F>): number => JOB_ORDER.indexOf(job);
  return [...byJob]
    .map(([job, of]) => {
      const wheels = sorted(of.flatMap((one) => one.wheels));
      const findings = of.flatMap(({ finding }) => (finding === undefined ? [] : [finding]));
      const each = Math.max(...of.map(({ work }) => work.minutes));
      const times = job === 'answer' ? findings.length : Math.max(1, wheels.length);
      return { job, wheels, minutes: each * times, part: of[0]?.work.part, findings };
    })
    .toSorted((a, b) => rank(a) - rank(b));
}

function stepsOf<F extends ToFix>(placed: readonly Placed<F>[]): FixStep<F>[] {
  return OPENINGS.flatMap((opening) =>
    ([undefined, 'front', 'rear'] as const).flatMap((axle): FixStep<F>[] => {
      const own = placed.filter((one) => one.work.opening === opening && one.axle === axle);
      if (own.length === 0) return [];
      const jobs = jobsOf(own);
      const minutes = OPEN_MINUTES[opening] + jobs.reduce((sum, job) => sum + job.minutes, 0);
      return [{ opening, axle, wheels: sorted(own.flatMap(({ wheels }) => wheels)), minutes, jobs }];
    }),
  );
}

/** What is waited for longest first; a part that only advice asks for is no reason to wait. */
function partsOf<F extends ToFix>(placed: readonly Placed<F>[]): PartToOrder<F>[] {
  const asking = placed.filter(({ finding }) => finding?.counts !== 'advise');
  const byPart = groupedBy(asking, ({ work }) => work.part);
  return [...byPart]
    .flatMap(([part, of]) => {
      if (part === undefined) return [];
      const findings = new Set(of.flatMap(({ finding }) => (finding === undefined ? [] : [finding])));
      return [{ part, days: PART_DAYS[part], findings: [...findings] }];
    })
    .toSorted((a, b) => b.days - a.days);
}

/** What rests on a fact of the car that nobody said or confirmed; what also lacks an answer bars until that is given. */
const isOnlyRead = ({ result, counts, facts = [] }: ToFix): boolean =>
  result === 'unanswerable' && counts !== 'bar' && facts.length > 0;

/**
 * What is to be put right, by the fewest jobs and in the order that takes least time: what is waited for is ordered first, and
 * each thing is opened once for all that is done behind it. Pure. What is met or counts for nothing is left out.
 *
 * @param findings in order of importance; kept so within a job
 * @returns minutes of one person who has all tools at hand: common practice, no source (`work-table.ts`)
 */
export function orderFixes<F extends ToFix>(findings: readonly F[]): FixOrder<F> {
  const open = findings.filter(({ result, counts }) => result !== 'met' && counts !== 'no');
  const toRead = open.filter(isOnlyRead);
  const asked = withFewest(open.filter((one) => !isOnlyRead(one)).flatMap(place));
  const placed = [...asked, ...follows(asked)];
  const steps = stepsOf(placed);
  const minutes = steps.reduce((sum, step) => sum + step.minutes, 0);
  const alone = steps.reduce((sum, { opening, jobs }) => sum + OPEN_MINUTES[opening] * (jobs.length - 1), 0);
  return { order: partsOf(placed), steps, toRead, minutes, saves: alone };
}
