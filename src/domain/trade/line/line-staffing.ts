import { z } from 'zod';
import { ASSUMED_SERVICE_MINUTES } from '../../line/line-forecast.ts';
import { formatQuantity as show, roundTo } from '../../quantity.ts';
import { type Assumption, calculation, measure, notComputable, type WorkStep } from '../calculation.ts';
import {
  erlangB,
  erlangC,
  fewestForWait,
  fewestStable,
  type Line,
  loadOf,
  meanWaiting,
  meanWaitMinutes,
  waitExceeds,
} from './line-staffing-erlang.ts';

/** What a line should keep to: nine cars of ten wait at most a quarter of an hour. Common practice, no source. */
export const WAIT_LIMIT_MINUTES = 15;
export const WAIT_SHARE_PERCENT = 90;
/** A load beyond every line: a slip in the numbers, and a search nobody should wait for. */
const MOST_LOAD = 1000;

/**
 * When a line with so many cars standing in it is through, minutes: full rounds of one car each.
 *
 * @throws NotComputable at `/inspectors` without an inspector. Source: arithmetic for equal service times.
 */
export function backlogClearedMinutes(cars: number, inspectors: number, serviceMinutes: number): number {
  if (!(inspectors >= 1)) throw notComputable('/inspectors', 'not-a-count', 'Somebody has to inspect.');
  return Math.ceil(cars / inspectors) * serviceMinutes;
}

/**
 * The fewest inspectors who get through so many cars in the minutes there are, if no one ever stands idle: no number
 * below it can do. 0 for no cars.
 *
 * @throws NotComputable at `/minutesToFirstSession` when there is not the time for one car
 * @see arithmetic for equal service times
 */
export function fewestForBacklog(cars: number, serviceMinutes: number, minutes: number): number {
  // 24 minutes of 8 are three rounds, whatever the last binary digit says
  const rounds = Math.floor(minutes / serviceMinutes + 1e-9);
  if (cars <= 0) return 0;
  if (rounds >= 1) return Math.ceil(cars / rounds);
  throw notComputable(
    '/minutesToFirstSession',
    'too-late',
    'The first session starts before one car can be inspected.',
  );
}

export interface Morning {
  /** cars still to come */
  cars: number;
  /** over how many minutes from now they come, at random */
  arrivalMinutes: number;
  /** cars in line already */
  waiting: number;
  minutesToFirstSession: number;
  serviceMinutes: number;
  /** share of cars, 0 to 1, that must be in time */
  share: number;
}

/**
 * The fewest inspectors with whom the cars of a morning are through by the first session: enough for the whole
 * backlog, and enough that the last to come waits no longer than what is left when its own inspection is taken off,
 * with probability `share`. The steady-state wait is used, which a line that starts empty stays below.
 *
 * @throws NotComputable at `/arrivalMinutes` when the last to come is too late whatever the number of inspectors
 * @see Erlang C (`line-staffing-erlang.ts`) and `fewestForBacklog`
 */
export function fewestToClear(morning: Morning): number {
  const { cars, waiting, serviceMinutes, minutesToFirstSession, arrivalMinutes } = morning;
  const backlog = fewestForBacklog(cars + waiting, serviceMinutes, minutesToFirstSession);
  if (cars === 0) return Math.max(1, backlog);
  const spare = minutesToFirstSession - arrivalMinutes - serviceMinutes;
  if (spare < 0)
    throw notComputable(
      '/arrivalMinutes',
      'too-late',
      `A car that comes after minute ${roundTo(minutesToFirstSession - serviceMinutes, 1)} cannot be through by the first session, however many inspect: close the line earlier.`,
    );
  const line = { arrivalsPerHour: (60 * cars) / arrivalMinutes, serviceMinutes };
  return Math.max(backlog, fewestForWait(line, spare, 1 - morning.share));
}

const count = (what: string, min: number, max: number) => z.int().min(min).max(max).describe(what);

const Input = z.strictObject({
  cars: count('Cars still to come', 0, 5000),
  arrivalMinutes: measure('min', 'They come at random over so many minutes from now', { min: 1, max: 1440 }),
  waiting: count('Cars in line already (0 where absent)', 0, 5000).optional(),
  minutesToFirstSession: measure('min', 'From now to the first session', { min: 1, max: 1440 }),
  serviceMinutes: measure('min', 'Mean time for one car (8 where absent)', { min: 0.5, max: 240 }).optional(),
  inspectors: count('Inspectors at work; where absent the number needed is taken', 1, 500).optional(),
  waitLimitMinutes: measure('min', 'A wait that is too long (15 where absent)', { min: 0, max: 600 }).optional(),
  sharePercent: measure('%', 'Share of cars that must be within it and in time (90 where absent)', {
    min: 50,
    max: 99.9,
  }).optional(),
});
type Input = z.infer<typeof Input>;

const Result = z.object({
  arrivalsPerHour: z.number().describe('Cars an hour'),
  load: z.number().describe('Inspectors who would be busy all the time (erlang)'),
  inspectors: z.number().describe('Inspectors the figures are for'),
  utilisationPercent: z.number().describe('Share of their time they inspect, %'),
  waitProbabilityPercent: z.number().describe('Cars that have to wait at all, %'),
  meanWaitMinutes: z.number().describe('Mean wait of all cars, minutes'),
  overLimitPercent: z.number().describe('Cars that wait longer than the limit, %'),
  meanWaiting: z.number().describe('Cars in line on average'),
  allThroughMinutes: z.number().describe('When the inspectors are through with all cars if none stands idle, minutes'),
  needed: z
    .object({
      toKeepUp: z.number().describe('So that the line does not grow without end'),
      forWaitLimit: z.number().describe('So that the share of cars waits no longer than the limit'),
      forBacklog: z.number().describe('No number below this can be through by the first session'),
      toClear: z.number().describe('So that the cars are through by the first session'),
    })
    .describe('Fewest inspectors'),
  enough: z.boolean().describe('The inspectors are at least those to clear and for the wait limit'),
});
type Result = z.infer<typeof Result>;

interface Plan {
  morning: Morning;
  line: Omit<Line, 'inspectors'>;
  waitLimit: number;
  needed: Result['needed'];
}

function planOf(input: Input): Plan {
  const serviceMinutes = input.serviceMinutes ?? ASSUMED_SERVICE_MINUTES;
  const share = (input.sharePercent ?? WAIT_SHARE_PERCENT) / 100;
  const { cars, arrivalMinutes, minutesToFirstSession, waiting = 0 } = input;
  const line = { arrivalsPerHour: (60 * cars) / arrivalMinutes, serviceMinutes };
  if (loadOf(line) > MOST_LOAD)
    throw notComputable('/cars', 'too-many', `More than ${MOST_LOAD} inspectors would be needed to keep up.`);
  const morning = { cars, arrivalMinutes, waiting, minutesToFirstSession, serviceMinutes, share };
  const waitLimit = input.waitLimitMinutes ?? WAIT_LIMIT_MINUTES;
  const needed = {
    toKeepUp: fewestStable(loadOf(line)),
    forWaitLimit: fewestForWait(line, waitLimit, 1 - share),
    forBacklog: fewestForBacklog(cars + waiting, serviceMinutes, minutesToFirstSession),
    toClear: fewestToClear(morning),
  };
  return { morning, line, waitLimit, needed };
}

/** Too few to keep up: says how many would do, and when the given ones would be through all the same. */
function assertKeepsUp({ line, morning, needed }: Plan, inspectors: number): void {
  if (inspectors >= needed.toKeepUp) return;
  const through = backlogClearedMinutes(morning.cars + morning.waiting, inspectors, morning.serviceMinutes);
  const detail = `${inspectors} at ${morning.serviceMinutes} minutes a car serve ${roundTo((60 * inspectors) / morning.serviceMinutes, 1)} cars an hour while ${roundTo(line.arrivalsPerHour, 1)} come: the line grows for as long as they come, and is through after ${roundTo(through, 0)} minutes at best. At least ${needed.toKeepUp} keep up; ${Math.max(needed.toClear, needed.forWaitLimit)} would do.`;
  throw notComputable('/inspectors', 'unstable', detail);
}

function resultOf(plan: Plan, inspectors: number): Result {
  const line = { ...plan.line, inspectors };
  const { cars, waiting, serviceMinutes } = plan.morning;
  const load = loadOf(line);
  return {
    arrivalsPerHour: roundTo(line.arrivalsPerHour, 1),
    load: roundTo(load, 2),
    inspectors,
    utilisationPercent: roundTo((100 * load) / inspectors, 1),
    waitProbabilityPercent: roundTo(100 * erlangC(inspectors, load), 1),
    meanWaitMinutes: roundTo(meanWaitMinutes(line), 1),
    overLimitPercent: roundTo(100 * waitExceeds(line, plan.waitLimit), 1),
    meanWaiting: roundTo(meanWaiting(line), 1),
    allThroughMinutes: roundTo(backlogClearedMinutes(cars + waiting, inspectors, serviceMinutes), 0),
    needed: plan.needed,
    enough: inspectors >= Math.max(plan.needed.toClear, plan.needed.forWaitLimit),
  };
}

function stepsOf({ line, morning, waitLimit }: Plan, result: Result): WorkStep[] {
  const { load, inspectors } = result;
  const service = morning.serviceMinutes;
  return [
    {
      what: 'Arrivals',
      formula: 'λ = 60·n/t',
      numbers: `60·${morning.cars}/${morning.arrivalMinutes}`,
      result: `${result.arrivalsPerHour} cars an hour`,
    },
    { what: 'Load', formula: 'A = λ·s/60', numbers: `${result.arrivalsPerHour}·${service}/60`, result: `${load}` },
    {
      what: 'Erlang B, by recursion',
      formula: 'B(0) = 1, B(k) = A·B(k−1)/(k + A·B(k−1))',
      numbers: `A = ${load}, k = 1 to ${inspectors}`,
      result: `B = ${roundTo(erlangB(inspectors, loadOf(line)), 4)}`,
    },
    {
      what: 'Has to wait',
      formula: 'C = B/(1 − (A/c)·(1 − B))',
      numbers: `A = ${load}, c = ${inspectors}`,
      result: show(result.waitProbabilityPercent, '%'),
    },
    {
      what: 'Mean wait',
      formula: 'C·s/(c − A)',
      numbers: `${roundTo(result.waitProbabilityPercent / 100, 3)}·${service}/(${inspectors} − ${load})`,
      result: show(result.meanWaitMinutes, 'min'),
    },
    {
      what: 'Waits too long',
      formula: 'C·exp(−(c − A)·t/s)',
      numbers: `${roundTo(result.waitProbabilityPercent / 100, 3)}·exp(−(${inspectors} − ${load})·${waitLimit}/${service})`,
      result: show(roundTo(100 * waitExceeds({ ...line, inspectors }, waitLimit), 1), '%'),
    },
    {
      what: 'Backlog bound',
      formula: 'n/⌊T/s⌋, rounded up',
      numbers: `${morning.cars + morning.waiting}/⌊${morning.minutesToFirstSession}/${service}⌋`,
      result: `${result.needed.forBacklog} inspectors`,
    },
  ];
}

function assumptionsOf(input: Input): Assumption[] {
  const practice = (name: string, value: string): Assumption => ({ name, value, standing: 'common-practice' });
  return [
    ...(input.serviceMinutes === undefined ? [practice('time for one car', `${ASSUMED_SERVICE_MINUTES} min`)] : []),
    ...(input.waitLimitMinutes === undefined ? [practice('wait that is too long', `${WAIT_LIMIT_MINUTES} min`)] : []),
    ...(input.sharePercent === undefined ? [practice('share of cars', `${WAIT_SHARE_PERCENT} %`)] : []),
    { name: 'arrivals', value: 'at random at an even rate: a rush waits longer', standing: 'derived' },
    {
      name: 'times for one car',
      value: 'exponential: real ones vary less, so that waits are rather shorter',
      standing: 'derived',
    },
    { name: 'steady state', value: 'a line that starts empty waits less than this', standing: 'derived' },
    { name: 'cars in line already', value: 'counted in the backlog bound, not in the waits', standing: 'derived' },
  ];
}

/** Waiting times at the tech line and the inspectors needed to be through by the first session. */
export const LINE_STAFFING = calculation<Input, Result>({
  name: 'line-staffing',
  title: 'Waiting at the tech line and inspectors needed',
  summary: 'Waits by Erlang C, and the fewest inspectors who are through with the cars by the first session.',
  input: Input,
  result: Result,
  sources: [
    { title: 'Erlang C delay formula, queueing theory textbooks', standing: 'secondary' },
    { title: 'Backlog bound: arithmetic', standing: 'derived' },
  ],
  example: { cars: 40, arrivalMinutes: 90, minutesToFirstSession: 120, serviceMinutes: 8, inspectors: 5 },
  compute(input) {
    const plan = planOf(input);
    const inspectors = input.inspectors ?? Math.max(plan.needed.toClear, plan.needed.forWaitLimit);
    assertKeepsUp(plan, inspectors);
    const result = resultOf(plan, inspectors);
    const few =
      'These inspectors are too few for the wait limit or the first session: let cars come earlier, or find help.';
    return {
      result,
      steps: stepsOf(plan, result),
      assumptions: assumptionsOf(input),
      cautions: result.enough ? [] : [few],
    };
  },
});
