import { findItem } from '../../src/domain/catalogue/catalogue.ts';
import { isMeasurable, type Verdict } from '../../src/domain/rules/model/finding.ts';
import type { Case } from './case.ts';
import type { ShownPoint } from './inspectors.ts';

/** What an inspector's acceptance came to; `reason`: why the gate is not green. */
export interface Tried {
  green: boolean;
  reason: string;
}

/** What became of a car; `not-taken`: its answers cannot be read, which is neither a stop nor a pass. */
export interface Outcome {
  verdict: Verdict | 'not-taken';
  /** absent where nothing hangs on it: an honest car */
  ticked?: Tried;
  measured: Tried;
  /** places that a rule asks the line to look at */
  points: number;
  /** what the inspector needs at the car, by `secondsAtLine` */
  seconds: number;
}

/** What is wrong with an outcome, in one sentence; `undefined` where it is as the case says. */
export function faultOf({ expected }: Case, { verdict, ticked, measured }: Outcome): string | undefined {
  if (verdict === 'not-taken') return `not taken: ${measured.reason}`;
  if (expected === 'through') {
    if (measured.green) return undefined;
    return verdict === 'barred' ? `barred: ${measured.reason}` : `not accepted: ${measured.reason}`;
  }
  if (ticked?.green) return `${verdict}, and green after ticks alone`;
  return measured.green ? `${verdict}, and green after measuring` : undefined;
}

/** How many places a rule asks for beyond what is looked at on every car; several items of one finding are one look. */
export function countPoints(points: readonly ShownPoint[]): number {
  const asked = points.filter((point) => point.asked === 'rule' || point.asked === 'refused');
  return new Set(asked.map(({ ruleId, item, position }) => `${ruleId ?? item}@${position ?? ''}`)).size;
}

/** Walking there, looking, ticking; choosing or typing what was seen or read; with a gauge in the hand. Common practice, no source. */
const LOOK_SECONDS = 15;
const NAME_SECONDS = 20;
const MEASURE_SECONDS = 30;

function secondsOf({ item: key, needsValue }: ShownPoint): number {
  if (needsValue !== true) return LOOK_SECONDS;
  const item = findItem(key);
  return item !== undefined && isMeasurable(item) ? MEASURE_SECONDS : NAME_SECONDS;
}

/** What the line takes: what is looked at on every car by its own times, and each place that a rule asks for besides. */
export function secondsAtLine(points: readonly ShownPoint[]): number {
  const always = new Map(points.flatMap(({ always: one }) => (one === undefined ? [] : [[one.id, one.seconds]])));
  const asked = new Map<string, number>();
  for (const point of points) {
    const { asked: why, ruleId, item, position } = point;
    if (why !== 'rule' && why !== 'refused') continue;
    const place = `${ruleId ?? item}@${position ?? ''}`;
    asked.set(place, Math.max(asked.get(place) ?? 0, secondsOf(point)));
  }
  return [...always.values(), ...asked.values()].reduce((sum, one) => sum + one, 0);
}

/** The outcome of answers that were not taken. */
export function notTaken(reason: string): Outcome {
  const tried = { green: false, reason };
  return { verdict: 'not-taken', ticked: tried, measured: tried, points: 0, seconds: 0 };
}
