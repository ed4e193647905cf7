import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { POSITION_KEYS } from '../../../../src/domain/catalogue/item.ts';
import { foldClearance } from '../../../../src/domain/clearance/clearance.ts';
import { decideClearance } from '../../../../src/domain/clearance/decide-clearance.ts';
import { wetAt, type WetTyres } from '../../../../src/domain/clearance/wet-tyres.ts';
import { decideWetTyres } from '../../../../src/domain/clearance/decide-wet-tyres.ts';
import { type Answers, cellKey } from '../../../../src/domain/declaration/declaration.ts';
import { OWN_PARAMETERS, ownNumber } from '../../../../src/domain/rules/model/parameter-values.ts';
import type { RuleSet } from '../../../../src/domain/rules/model/rule-set.ts';
import { alone, arbHistory, arbInstant, at } from '../../../support/clearance-histories.ts';

const ZONES = POSITION_KEYS['wheel-zone'];
const treads = (all: number, at: Readonly<Record<string, number | undefined>> = {}): Answers =>
  new Map(
    ZONES.flatMap((zone) => {
      const depth = Object.hasOwn(at, zone) ? at[zone] : all;
      return depth === undefined ? [] : [[cellKey('tyre.tread', zone), depth] as const];
    }),
  );
const lowest = (mm: number, FL = mm): Answers =>
  new Map(POSITION_KEYS.wheel.map((wheel) => [cellKey('tyre.tread-lowest', wheel), wheel === 'FL' ? FL : mm] as const));
const decide = (declared: Answers, measured?: Answers) => decideWetTyres(declared, measured, 3);

describe('tyres on a wet track', () => {
  // Common practice, no source: 3 mm in every groove, and no slicks.
  test.each<[string, Answers, WetTyres | undefined]>([
    ['grooves of the limit and more', treads(3), { fit: true }],
    ['one groove below it', treads(6, { 'RL.inner': 2.9 }), { fit: false, why: 'grooves', lowestMm: 2.9, limitMm: 3 }],
    ['slicks', treads(0), { fit: false, why: 'slicks' }],
    ['one slick', treads(6, { 'FR.inner': 0, 'FR.middle': 0, 'FR.outer': 0 }), { fit: false, why: 'slicks' }],
    [
      'a shoulder without a groove',
      treads(6, { 'FR.inner': 0 }),
      { fit: false, why: 'grooves', lowestMm: 0, limitMm: 3 },
    ],
    ['nothing known', new Map(), undefined],
    ['one place that is not known', treads(6, { 'RR.middle': undefined }), undefined],
    [
      'one not known and one too low',
      treads(6, { 'RR.middle': undefined, 'FL.outer': 2 }),
      { fit: false, why: 'grooves', lowestMm: 2, limitMm: 3 },
    ],
    ['the lowest of each tyre', lowest(3), { fit: true }],
    [
      'one tyre of which the lowest is below it',
      lowest(4, 2.9),
      { fit: false, why: 'grooves', lowestMm: 2.9, limitMm: 3 },
    ],
    ['the lowest of three tyres, and three places of the fourth', new Map([...lowest(4), ...treads(5)]), { fit: true }],
    ['tyres said to be slicks', new Map([...treads(6), ['tyre.kind', 'slick']]), { fit: false, why: 'slicks' }],
    ['rain tyres', new Map([...treads(6), ['tyre.kind', 'rain']]), { fit: true }],
  ])('with %s', (_, answers, wanted) => {
    expect(decide(answers)).toEqual(wanted);
  });

  test('what was measured wins, either way', () => {
    const worn = treads(2);
    expect(decide(worn, treads(5))).toEqual({ fit: true });
    expect(decide(treads(5), new Map([[cellKey('tyre.tread', 'FL.inner'), 2.5]]))).toMatchObject({ lowestMm: 2.5 });
    expect(decide(treads(6, { 'RR.middle': undefined }), new Map([[cellKey('tyre.tread', 'RR.middle'), 4]]))).toEqual({
      fit: true,
    });
  });

  test('less tread, or less known of it, never makes a car fit', () => {
    const depth = fc.option(
      fc.integer({ min: 0, max: 80 }).map((tenths) => tenths / 10),
      { nil: undefined },
    );
    fc.assert(
      fc.property(fc.array(depth, { minLength: 12, maxLength: 12 }), fc.nat({ max: 11 }), depth, (all, place, less) => {
        const before = treads(0, Object.fromEntries(ZONES.map((zone, index) => [zone, all[index]])));
        const zone = ZONES[place] as string;
        const worse = less === undefined || less < (all[place] ?? 0) ? less : all[place];
        const after = treads(
          0,
          Object.fromEntries(ZONES.map((one, index) => [one, one === zone ? worse : all[index]])),
        );
        if (decide(after)?.fit === true) expect(decide(before)).toEqual({ fit: true });
      }),
    );
  });
});

test('the limit is the one of the rules, in their unit, and 3 mm without one', () => {
  const rules = (parameters: RuleSet['parameters']) => ({ parameters }) as RuleSet;
  const inches = { wetTreadMinimum: { value: 0.125, unit: 'in', meaning: 'Wet' } };
  expect(ownNumber(rules({}), {}, 'wetTreadMinimum')).toBe(OWN_PARAMETERS.wetTreadMinimum.value);
  // NIST Special Publication 811, appendix B: 1 in is 25.4 mm exactly.
  expect(ownNumber(rules(inches), {}, 'wetTreadMinimum')).toBeCloseTo(3.175, 10);
  expect(ownNumber(rules(inches), { wetTreadMinimum: { value: 4, unit: 'mm' } }, 'wetTreadMinimum')).toBe(4);
  expect(ownNumber(rules(inches), { wetTreadMinimum: { value: 'deep' } }, 'wetTreadMinimum')).toBeUndefined();
});

describe('the switch', () => {
  test('keeps in exactly what may go and is not known to be fit, and gives it back', () => {
    let kept = 0;
    let went = 0;
    fc.assert(
      fc.property(arbHistory, arbInstant, (history, now) => {
        const facts = foldClearance(history);
        const dry = decideClearance(alone(facts), now);
        const wet = decideClearance({ ...alone(facts), wet: true }, now);
        const fit = facts.declared?.wet?.fit === true;
        expect(wet.admit).toBe(dry.admit && fit);
        if (dry.admit && !fit) {
          expect(wet).toMatchObject({ status: 'held', validUntil: null });
          expect(wet.reason).toMatch(/^Wet track: /);
          kept += 1;
        } else expect(wet).toEqual(dry);
        if (wet.admit) went += 1;
      }),
      { numRuns: 2000 },
    );
    // A property that never met either would say nothing.
    expect(kept).toBeGreaterThan(20);
    expect(went).toBeGreaterThan(5);
  });

  test('says what is wrong with the tyres', () => {
    const says = (wet: WetTyres | undefined) => {
      const declared = { type: 'declared', inspectionId: 'i', revision: 1, verdict: 'clean', bars: [], wet } as const;
      const dates = { validFrom: at(0), validUntil: at(20) };
      const accepted = { type: 'signed-off', signOffId: 's', decision: 'accept', bars: [], conditions: [] } as const;
      const facts = foldClearance([declared, { ...accepted, ...dates, wet }]);
      return decideClearance({ ...alone(facts), wet: true }, new Date(at(8))).reason;
    };
    expect(says({ fit: false, why: 'slicks' })).toBe('Wet track: slicks on the car.');
    expect(says({ fit: false, why: 'grooves', lowestMm: 2.4, limitMm: 3 })).toBe(
      'Wet track: the lowest groove is 2.4 mm, and 3 mm are needed.',
    );
    expect(says(undefined)).toBe('Wet track: tread not known: have it measured.');
    expect(says({ fit: true })).toBe('Signed off at the tech line.');
  });

  test('is at every instant what was said last before it', () => {
    const steps = [
      { at: new Date(at(5)), wet: true },
      { at: new Date(at(7)), wet: false },
    ];
    expect([4, 5, 6, 7, 8].map((hour) => wetAt(steps, new Date(at(hour))))).toEqual([false, true, true, false, false]);
    expect(wetAt([], new Date(at(5)))).toBe(false);
  });
});
