import { findItem } from '../../src/domain/catalogue/catalogue.ts';
import type { Counts, Finding, Reading, Result } from '../../src/domain/rules/model/finding.ts';
import type { JudgeInput } from '../../src/domain/rules/judge/run.ts';
import type { headOf, Scheme } from './rules-bench-set.ts';

// What the hand-written closures share. It knows nothing of the engine but the shape of its input and output.

export type Closure = (car: JudgeInput, out: Finding[]) => void;
export type Head = ReturnType<typeof headOf>;
export type Margin = Finding['margin'];

export const WHEELS = ['FL', 'FR', 'RL', 'RR'];
const SIDES = WHEELS.flatMap((wheel) => [`${wheel}.in`, `${wheel}.out`]);
const ZONES = WHEELS.flatMap((wheel) => ['inner', 'middle', 'outer'].map((zone) => `${wheel}.${zone}`));
const POSITIONS: Readonly<Record<Exclude<Scheme, 'car'>, readonly string[]>> = {
  wheel: WHEELS,
  'wheel-side': SIDES,
  'wheel-zone': ZONES,
  axle: ['front', 'rear'],
  strap: ['lap-left', 'lap-right', 'shoulder-left', 'shoulder-right', 'crotch'],
  bushing: [
    'front-upper-arm',
    'front-lower-arm',
    'front-anti-roll-bar',
    'rear-upper-arm',
    'rear-lower-arm',
    'rear-anti-roll-bar',
    'subframe',
    'differential-mount',
  ],
  fluid: ['engine-oil', 'coolant', 'fuel', 'brake-fluid', 'gearbox-oil', 'power-steering'],
};

export function finding(
  head: Head,
  position: string | undefined,
  result: Result,
  measured: Reading | undefined,
  limit: string | undefined,
  margin: Margin,
  message: string,
): Finding {
  const isMet = result === 'met';
  const counts: Counts = isMet ? 'no' : head.effect;
  return {
    ruleId: head.id,
    title: head.title,
    position,
    result,
    effect: head.effect,
    counts,
    items: head.items,
    measured,
    limit,
    margin,
    source: result === 'unanswerable' ? undefined : 'declared',
    basis: head.basis,
    message: isMet ? '' : message,
    fix: isMet ? '' : head.fix,
    watched: undefined,
    conceded: undefined,
    clearedBy: isMet ? undefined : head.clearedBy,
    reliability: undefined,
    facts: undefined,
  };
}

export const labelOf = (item: string, field?: string): string => {
  const found = findItem(item);
  const part = field !== undefined && found?.answer.kind === 'fields' ? `, ${found.answer.fields[field]?.label}` : '';
  return `"${found?.label}"${part}`;
};
export const decimalsOf = (item: string, field?: string): number => {
  const answer = findItem(item)?.answer;
  const type = answer?.kind === 'fields' ? answer.fields[field ?? '']?.type : answer;
  return type?.kind === 'number' ? type.decimals : 0;
};
export const round = (value: number, decimals: number): number =>
  Math.round(value * 10 ** decimals) / 10 ** decimals + 0;

export interface Cell {
  position: string | undefined;
  cell: string;
  missing: string;
}
export const cellsOf = (item: string, scheme: Scheme, field?: string): Cell[] => {
  const part = field === undefined ? '' : `#${field}`;
  if (scheme === 'car')
    return [{ position: undefined, cell: `${item}${part}`, missing: `No answer for ${labelOf(item, field)}` }];
  return POSITIONS[scheme].map((position) => ({
    position,
    cell: `${item}@${position}${part}`,
    missing: `No answer for ${labelOf(item, field)} at ${position}`,
  }));
};

export const median = (values: readonly number[]): number =>
  values.toSorted((a, b) => a - b)[Math.floor(values.length / 2)] ?? 0;

/** Processor time of this process while it runs, milliseconds: what others on the machine do does not count. */
export function cpuMilliseconds(run: () => void): number {
  const before = process.cpuUsage();
  run();
  const { user, system } = process.cpuUsage(before);
  return (user + system) / 1000;
}
