import fc from 'fast-check';
import { NOTHING_WRONG } from '../../src/domain/clearance/car-happenings.ts';
import type { EntryHappening, ClearanceFacts } from '../../src/domain/clearance/clearance.ts';
import type { ClearanceState } from '../../src/domain/clearance/decide-clearance.ts';
import type { WetTyres } from '../../src/domain/clearance/wet-tyres.ts';

/** An instant at a full hour of 13 June 2026 (UTC), as text. */
export const at = (hour: number): string => new Date(Date.UTC(2026, 5, 13, hour)).toISOString();

/** Days that never end: for tests of what else decides. */
export const ALWAYS = { from: new Date('2026-01-01T00:00:00.000Z'), until: new Date('2027-01-01T00:00:00.000Z') };

/** An entry whose car nothing is wrong with, on a day of the event. */
export const alone = (facts: ClearanceFacts): ClearanceState => ({
  facts,
  car: NOTHING_WRONG,
  runGroup: 'Novice',
  days: ALWAYS,
  wet: false,
});

const instant = fc.integer({ min: 0, max: 23 }).map(at);
const maybe = <T>(arb: fc.Arbitrary<T>) => fc.option(arb, { nil: undefined });
const mostly = (min: number, max: number) => fc.option(fc.integer({ min, max }).map(at), { nil: undefined, freq: 20 });

const bars = fc.uniqueArray(
  fc.record({
    ruleId: fc.constantFrom('a', 'b'),
    title: fc.constantFrom('Brake pads', 'Harness'),
    concededUntil: mostly(6, 23),
    condition: maybe(fc.constant('look again')),
  }),
  { selector: (one) => one.ruleId, maxLength: 2 },
);
const conditions = fc.uniqueArray(
  fc.record({ id: fc.constantFrom('c1', 'c2'), text: fc.constantFrom('torque', 'noise'), dueAt: maybe(instant) }),
  { selector: (one) => one.id, maxLength: 2 },
);

/** Absent: the tread is not known. */
export const arbWetTyres: fc.Arbitrary<WetTyres | undefined> = maybe(
  fc.constantFrom<WetTyres>(
    { fit: true },
    { fit: false, why: 'slicks' },
    { fit: false, why: 'grooves', lowestMm: 2.4, limitMm: 3 },
  ),
);

const signedOff = fc.record({
  type: fc.constant('signed-off'),
  signOffId: fc.constant('s'),
  decision: fc.constantFrom('accept', 'accept-with-conditions', 'refuse'),
  note: maybe(fc.constant('loose seat')),
  stickerNumber: maybe(fc.constant('17')),
  validFrom: mostly(0, 9),
  validUntil: mostly(8, 23),
  bars,
  conditions,
  wet: arbWetTyres,
});
const declared = fc.record({
  type: fc.constant('declared'),
  inspectionId: fc.constant('i'),
  revision: fc.nat({ max: 9 }),
  verdict: fc.constant('clean'),
  bars,
  wet: arbWetTyres,
});
const holdId = fc.constantFrom('h1', 'h2');

const anyEvent = fc.oneof(
  { weight: 2, arbitrary: declared },
  { weight: 4, arbitrary: signedOff },
  { weight: 1, arbitrary: fc.record({ type: fc.constant('declaration-voided'), reason: fc.constant('other car') }) },
  {
    weight: 1,
    arbitrary: fc.record({
      type: fc.constant('recalled'),
      inspectionId: fc.constant('i'),
      revision: fc.constant(2),
      verdict: fc.constant('barred'),
      reason: fc.constant('thinner pads'),
    }),
  },
  {
    weight: 1,
    arbitrary: fc.record(
      {
        type: fc.constant('conceded'),
        ruleId: fc.constantFrom('a', 'b'),
        until: instant,
        condition: fc.constant('look again'),
        opens: fc.record({ id: fc.constantFrom('c1', 'c3'), text: fc.constant('look again') }),
      },
      { requiredKeys: ['type', 'ruleId', 'until'] },
    ),
  },
  { weight: 1, arbitrary: fc.record({ type: fc.constant('concession-revoked'), bars }) },
  {
    weight: 1,
    arbitrary: fc.record({ type: fc.constant('condition-done'), conditionId: fc.constantFrom('c1', 'c2') }),
  },
  { weight: 1, arbitrary: fc.record({ type: fc.constant('held'), holdId, reason: fc.constant('contact') }) },
  { weight: 2, arbitrary: fc.record({ type: fc.constant('lifted'), holdId, requiresReinspection: fc.boolean() }) },
  { weight: 1, arbitrary: fc.record({ type: fc.constant('tread-measured'), wet: arbWetTyres }) },
  { weight: 1, arbitrary: fc.constant({ type: 'withdrawn' }) },
) as fc.Arbitrary<EntryHappening>;

/** What may happen to an entry, often with an acceptance near the end: properties about a yes must meet one. */
export const arbHistory: fc.Arbitrary<EntryHappening[]> = fc
  .tuple(
    fc.array(anyEvent, { maxLength: 6 }),
    fc.oneof(fc.constant([]), fc.tuple(declared, signedOff)) as fc.Arbitrary<EntryHappening[]>,
    fc.array(anyEvent, { maxLength: 3 }),
  )
  .map(([earlier, middle, later]) => [...earlier, ...middle, ...later]);

/** An instant of that day: a full hour, a millisecond before it or after it. */
export const arbInstant: fc.Arbitrary<Date> = fc
  .tuple(fc.integer({ min: 0, max: 23 }), fc.constantFrom(-1, 0, 1))
  .map(([hour, ms]) => new Date(Date.parse(at(hour)) + ms));
