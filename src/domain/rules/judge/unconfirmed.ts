import { isImplausible, valueOf } from '../../car/car-facts.ts';
import { type NumberFact, numberFactOf } from '../../car/fact-table.ts';
import { formatQuantity } from '../../quantity.ts';
import type { Vehicle } from '../../vehicle.ts';
import type { FactInDoubt, Finding } from '../model/finding.ts';
import type { Run } from './run.ts';

/** A view of a record that notes each fact of `watched` when it is read. Only cars with such facts pay for it. */
function watching<T extends object>(
  record: T,
  below: string,
  watched: ReadonlySet<string>,
  note: (path: string) => void,
): T {
  return new Proxy(record, {
    get(target, name) {
      const value: unknown = Reflect.get(target, name);
      if (typeof name === 'symbol') return value;
      const path = below + name;
      if (typeof value === 'object' && value !== null) return watching(value, `${path}.`, watched, note);
      if (watched.has(path)) note(path);
      return value;
    },
  });
}

/** From now on the run notes which of these facts it reads. */
export function watchFacts(run: Run, unconfirmed: ReadonlySet<string>): void {
  run.doubts = new Set();
  // a copy: of what is frozen, no view may give anything else
  run.vehicle = watching(structuredClone(run.vehicle), '', unconfirmed, (path) => run.doubts?.add(path));
}

/** The facts whose value alone lets a rule be met, and that the line finds out one by one. */
const decidesAlone = (path: string, vehicle: Vehicle): boolean =>
  numberFactOf(path)?.readAt !== 'compare' || isImplausible(path, valueOf(vehicle, path) ?? '');

/**
 * What becomes of a finding that rests on numbers of the car which nobody confirmed. Not met, it does not bar: the number
 * may be a slip, and the line finds it out. Met, the line finds out those that are stamped or that the rule hangs on alone;
 * the others are compared with the car as a whole (`car.as-described`). Choices do not lift a bar: whoever entered them can
 * change them.
 */
export function inDoubt(finding: Finding, run: Run, read: ReadonlySet<string>): Finding {
  if (finding.effect === 'advise' || finding.watched || finding.counts === 'advise') return finding;
  const numbers = [...read].filter((path) => numberFactOf(path) !== undefined);
  const isMet = finding.result === 'met';
  const facts = isMet ? numbers.filter((path) => decidesAlone(path, run.vehicle)) : numbers;
  if (facts.length === 0) return finding;
  const doubts: FactInDoubt[] = facts.map((path) => ({ path, why: 'unconfirmed' }));
  const says = `It rests on ${facts.map((path) => sayFact(path, run.vehicle)).join(' and ')}, which nobody of the staff has seen.`;
  return {
    ...finding,
    // inside its limit, and yet not enough
    result: isMet ? 'unanswerable' : finding.result,
    counts: 'inspect',
    clearedBy: finding.clearedBy ?? 'look',
    message: finding.message === '' ? says : `${finding.message} ${says}`,
    fix: isMet
      ? 'Nothing to do before the line: the inspector reads it at the car.'
      : `${finding.fix} First look whether that number is right.`,
    facts: [...(finding.facts ?? []), ...doubts],
  };
}

/** A number of the car for people: `the least thickness stamped on the rotor FL (20.4 mm)`. */
export function sayFact(path: string, vehicle: Vehicle): string {
  const fact = numberFactOf(path);
  const value = valueOf(vehicle, path);
  const named = sayName(path, fact);
  return fact === undefined || typeof value !== 'number'
    ? named
    : `${named} (${formatQuantity(value, fact.type.unit)})`;
}

function sayName(path: string, fact: NumberFact | undefined): string {
  const [, position] = path.split('.');
  const label = fact?.label ?? path;
  return position === undefined ? label : `${label} ${position}`;
}
