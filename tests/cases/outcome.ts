import type { Verdict } from '../../src/domain/rules/model/finding.ts';
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

/** The outcome of answers that were not taken. */
export function notTaken(reason: string): Outcome {
  const tried = { green: false, reason };
  return { verdict: 'not-taken', ticked: tried, measured: tried, points: 0 };
}
