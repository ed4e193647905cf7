import { addMonths, daysBetween, endOfYear } from '../../src/domain/calendar.ts';
import type { Finding, Verdict } from '../../src/domain/rules/model/finding.ts';
import {
  AGED,
  CHOICES,
  CONFIRMED,
  EXPRESSIONS,
  headOf,
  LIMITED,
  PHOTOGRAPHED,
  RANGED,
  SPREADS,
  VALID,
} from './rules-bench-set.ts';
import {
  cellsOf,
  type Closure,
  decimalsOf,
  finding,
  type Head,
  labelOf,
  round,
  WHEELS,
} from './rules-bench-support.ts';
import type { Scheme } from './rules-bench-set.ts';

// The same judgement as one would write it by hand: no rule documents, no checks, every constant in its closure.

type Stamped = 'rotorMinimumThicknessMm' | 'rotorMinimumWeightG';
const AXLE_OF = { FL: 'front', FR: 'front', RL: 'rear', RR: 'rear' } as const;

const confirmed = (head: Head, item: string): Closure => {
  const missing = `No answer for ${labelOf(item)}`;
  return (car, out) => {
    const value = car.answers.get(item);
    if (typeof value !== 'boolean')
      out.push(finding(head, undefined, 'unanswerable', undefined, 'yes', undefined, missing));
    else out.push(finding(head, undefined, value ? 'met' : 'not-met', { value }, 'yes', undefined, head.message));
  };
};

const chosen = (head: Head, item: string, scheme: Scheme, accepted: readonly string[], negate: boolean): Closure => {
  const limit = `${negate ? 'none of' : 'one of'}: ${accepted.join(', ')}`;
  const cells = cellsOf(item, scheme);
  const isForHarness = item === 'head-restraint.standard';
  return (car, out) => {
    if (isForHarness && car.vehicle.restraint === 'three-point') return;
    for (const { position, cell, missing } of cells) {
      const value = car.answers.get(cell);
      if (typeof value !== 'string')
        out.push(finding(head, position, 'unanswerable', undefined, limit, undefined, missing));
      else
        out.push(
          finding(
            head,
            position,
            accepted.includes(value) === negate ? 'not-met' : 'met',
            { value },
            limit,
            undefined,
            head.message,
          ),
        );
    }
  };
};

const limited = (head: Head, one: (typeof LIMITED)[number]): Closure => {
  const { item, field, atLeast, limit, unit } = one;
  const cells = cellsOf(item, one.scheme, field);
  const decimals = decimalsOf(item, field);
  const text = `${atLeast ? '≥' : '≤'} ${limit} ${unit}`;
  return (car, out) => {
    for (const { position, cell, missing } of cells) {
      const value = car.answers.get(cell);
      if (typeof value !== 'number') {
        out.push(finding(head, position, 'unanswerable', undefined, text, undefined, missing));
        continue;
      }
      const margin = round(atLeast ? value - limit : limit - value, decimals);
      out.push(
        finding(
          head,
          position,
          margin >= 0 ? 'met' : 'not-met',
          { value, unit },
          text,
          { value: margin, unit },
          head.message,
        ),
      );
    }
  };
};

/** A stamped minimum of the car's record, per wheel that has such a rotor. */
const stamped = (head: Head, item: string, property: Stamped, rotor: 'iron' | 'carbon', unit: string): Closure => {
  const decimals = decimalsOf(item);
  const cells = cellsOf(item, 'wheel').map((cell) => {
    const wheel = cell.position as keyof typeof AXLE_OF; // cells of the scheme `wheel` are at wheels
    return { ...cell, wheel, axle: AXLE_OF[wheel], unstated: `The vehicle record has no ${property}.${wheel}` };
  });
  return (car, out) => {
    for (const { wheel, axle, cell, missing, unstated } of cells) {
      if ((car.vehicle.rotor?.[axle] ?? rotor) !== rotor) continue;
      const value = car.answers.get(cell);
      const limit = car.vehicle[property]?.[wheel];
      if (typeof value !== 'number') {
        out.push(finding(head, wheel, 'unanswerable', undefined, undefined, undefined, missing));
      } else if (limit === undefined) {
        const made = finding(head, wheel, 'unanswerable', undefined, undefined, undefined, unstated);
        made.source = 'declared';
        // nobody who declares can mend the record: the line looks
        if (made.counts === 'bar') made.counts = 'inspect';
        out.push(made);
      } else {
        const margin = round(value - limit, decimals);
        const result = margin >= 0 ? 'met' : 'not-met';
        const text = `≥ ${limit} ${unit}`;
        out.push(finding(head, wheel, result, { value, unit }, text, { value: margin, unit }, head.message));
      }
    }
  };
};

const ranged = (head: Head, { item, scheme, from, to, unit }: (typeof RANGED)[number]): Closure => {
  const cells = cellsOf(item, scheme);
  const decimals = decimalsOf(item);
  const text = `${from} ${unit} to ${to} ${unit}`;
  return (car, out) => {
    for (const { position, cell, missing } of cells) {
      const value = car.answers.get(cell);
      if (typeof value !== 'number') {
        out.push(finding(head, position, 'unanswerable', undefined, undefined, undefined, missing));
        continue;
      }
      const margin = round(Math.min(value - from, to - value), decimals);
      out.push(
        finding(
          head,
          position,
          margin >= 0 ? 'met' : 'not-met',
          { value, unit },
          text,
          { value: margin, unit },
          head.message,
        ),
      );
    }
  };
};

const aged = (head: Head, { item, months }: (typeof AGED)[number], lastDay: string): Closure => {
  const earliest = addMonths(lastDay, -months);
  const text = `on or after ${earliest} (at most ${months} month${months === 1 ? '' : 's'} old on ${lastDay})`;
  const name = labelOf(item);
  return (car, out) => {
    const date = car.answers.get(item);
    if (typeof date !== 'string') {
      out.push(finding(head, undefined, 'unanswerable', undefined, text, undefined, `No answer for ${name}`));
    } else if (date > car.event.startsOn) {
      const says = `${name}: ${date} is after the first event day, ${car.event.startsOn}`;
      out.push({
        ...finding(head, undefined, 'unanswerable', { value: date }, text, undefined, says),
        source: 'declared',
      });
    } else {
      const margin = { value: daysBetween(earliest, date), unit: 'day' };
      out.push(
        finding(head, undefined, date >= earliest ? 'met' : 'not-met', { value: date }, text, margin, head.message),
      );
    }
  };
};

const valid = (head: Head, { item, years, scheme }: (typeof VALID)[number]): Closure => {
  const cells = cellsOf(item, scheme);
  return (car, out) => {
    if (scheme === 'strap' && car.vehicle.restraint === 'three-point') return;
    const text = `valid through ${car.event.endsOn}`;
    for (const { position, cell, missing } of cells) {
      const date = car.answers.get(cell);
      if (typeof date !== 'string') {
        out.push(finding(head, position, 'unanswerable', undefined, text, undefined, missing));
        continue;
      }
      const end = endOfYear(years === 0 ? date : addMonths(date, years * 12));
      const measured = { value: end === date ? date : `${date}, so valid to ${end}` };
      const margin = { value: daysBetween(car.event.endsOn, end), unit: 'day' };
      out.push(
        finding(head, position, end >= car.event.endsOn ? 'met' : 'not-met', measured, text, margin, head.message),
      );
    }
  };
};

const spreadOf = (head: Head, { item, scheme, within, limit, unit }: (typeof SPREADS)[number]): Closure => {
  const decimals = decimalsOf(item);
  const all = cellsOf(item, scheme);
  const groups = within
    ? WHEELS.map((wheel) => ({ wheel, cells: all.filter(({ position }) => position?.startsWith(wheel)) }))
    : [{ wheel: undefined, cells: all }];
  const text = `spread ≤ ${limit} ${unit}`;
  return (car, out) => {
    for (const { wheel, cells } of groups) {
      let low = Number.POSITIVE_INFINITY;
      let high = Number.NEGATIVE_INFINITY;
      const missing: string[] = [];
      for (const cell of cells) {
        const value = car.answers.get(cell.cell);
        if (typeof value !== 'number') missing.push(cell.missing);
        else {
          low = Math.min(low, value);
          high = Math.max(high, value);
        }
      }
      if (missing.length > 0) {
        const some = missing.length < cells.length ? ({ source: 'declared' } as const) : {};
        out.push({ ...finding(head, wheel, 'unanswerable', undefined, text, undefined, missing.join('; ')), ...some });
        continue;
      }
      const value = round(high - low, decimals);
      const margin = round(limit - value, decimals);
      out.push(
        finding(
          head,
          wheel,
          margin >= 0 ? 'met' : 'not-met',
          { value, unit },
          text,
          { value: margin, unit },
          head.message,
        ),
      );
    }
  };
};

const photographed =
  (head: Head, item: string): Closure =>
  (car, out) => {
    if (item === 'harness.label-date' && car.vehicle.restraint === 'three-point') return;
    const value = car.photos?.[item] ?? 0;
    const made = finding(
      head,
      undefined,
      value >= 1 ? 'met' : 'not-met',
      { value, unit: '1' },
      '≥ 1 photo',
      { value: value - 1, unit: '1' },
      head.message,
    );
    made.source = undefined;
    out.push(made);
  };

/** All rules but the expressions, which are written out one by one beside; numbered from `first` on. */
export function makeTypedClosures(lastDay: string, first = 0): Closure[] {
  let index = first;
  const head = (...items: string[]): Head => headOf(index++, items);
  return [
    ...CONFIRMED.map((item) => confirmed(head(item), item)),
    ...CHOICES.map(({ item, scheme, accepted, negate }) => chosen(head(item), item, scheme, accepted, negate === true)),
    ...LIMITED.map((one) => limited(head(one.item), one)),
    stamped(head('rotor.thickness'), 'rotor.thickness', 'rotorMinimumThicknessMm', 'iron', 'mm'),
    stamped(head('rotor.weight'), 'rotor.weight', 'rotorMinimumWeightG', 'carbon', 'g'),
    ...RANGED.map((one) => ranged(head(one.item), one)),
    ...AGED.map((one) => aged(head(one.item), one, lastDay)),
    ...VALID.map((one) => valid(head(one.item), one)),
    ...SPREADS.map((one) => spreadOf(head(one.item), one)),
    ...PHOTOGRAPHED.map((item) => photographed(head(item), item)),
  ];
}

export const expressionHead = (typed: number, index: number): Head =>
  headOf(typed + index, EXPRESSIONS[index]?.items ?? []);

/** The verdict, as the engine gives it. */
export function verdictOfFindings(findings: readonly Finding[]): Verdict {
  let verdict: Verdict = 'clean';
  for (const { counts } of findings) {
    if (counts === 'bar') return 'barred';
    if (counts === 'inspect') verdict = 'to-inspect';
  }
  return verdict;
}
