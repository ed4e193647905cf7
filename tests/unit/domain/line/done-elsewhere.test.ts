import { describe, expect, test } from 'vitest';
import { CATALOGUE } from '../../../../src/domain/catalogue/catalogue.ts';
import {
  ABOUT_DRIVER,
  doneElsewhere,
  isClosed,
  type OtherAcceptance,
} from '../../../../src/domain/line/done-elsewhere.ts';
import type { Finding } from '../../../../src/domain/rules/model/finding.ts';

const finding = (changes: Partial<Finding>): Finding => ({
  ruleId: 'pad-thickness',
  title: 'Pads',
  position: 'FL.in',
  result: 'not-met',
  effect: 'inspect',
  counts: 'inspect',
  items: ['pad.thickness'],
  limit: '≥ 6 mm',
  measured: { value: 5, unit: 'mm' },
  source: 'measured',
  basis: { kind: 'common-practice' },
  message: 'thin',
  fix: '',
  ...changes,
});
const given = (changes: Partial<OtherAcceptance>): OtherAcceptance => ({
  signOffId: 'one',
  runGroup: 'Novice',
  by: 'Una Beck',
  at: '2026-06-10T08:00:00.000Z',
  checks: [
    { item: 'pad.thickness', position: 'FL.in', value: 5 },
    { item: 'engine.leaks', position: 'coolant', result: 'ok' },
    { item: 'helmet.standard', result: 'ok' },
  ],
  findings: [],
  holds: [],
  refusals: [],
  ...changes,
});
const places = (...acceptances: OtherAcceptance[]) =>
  doneElsewhere(acceptances, { description: 'Car' }).map(({ item, of }) => `${item} ${of.signOffId}`);

describe('points done for another entry of the car', () => {
  test('are those about the car, the newest of each, and none that was taken over itself', () => {
    expect(places(given({}))).toEqual(['pad.thickness one', 'engine.leaks one']);
    const later = given({ signOffId: 'two', checks: [{ item: 'pad.thickness', position: 'FL.in', value: 7 }] });
    expect(places(given({}), later)).toEqual(['pad.thickness two', 'engine.leaks one']);
    expect(places(given({ checks: [{ item: 'engine.leaks', result: 'ok', from: 'other' }] }))).toEqual([]);
  });

  test('are none that was not in order, there or in a newer acceptance, at the place, within it or around it', () => {
    const bad = given({ signOffId: 'two', checks: [{ item: 'pad.thickness', position: 'FL', result: 'not-ok' }] });
    expect(places(given({}), bad)).toEqual(['engine.leaks one']);
  });

  test('are none that a hold asks for, or that was refused since; a refusal without a point leaves none', () => {
    expect(places(given({ holds: ['leak'] }))).toEqual(['pad.thickness one']);
    expect(places(given({ holds: ['papers'] }))).toHaveLength(2);
    const refused = { checks: [{ item: 'pad.thickness', result: 'not-ok' as const }], findings: [] };
    expect(places(given({ refusals: [refused] }))).toEqual(['engine.leaks one']);
    expect(places(given({ refusals: [{ checks: [], findings: [] }] }))).toEqual([]);
  });

  test('are open where a rule is not met here, unless the very same was found there', () => {
    const [pad] = doneElsewhere([given({ findings: [finding({ limit: '≥ 4 mm', result: 'met', counts: 'no' })] })], {
      description: 'Car',
    });
    if (pad === undefined) throw new Error('no point');
    expect(isClosed(pad, [finding({ result: 'met', counts: 'no' })])).toBe(true);
    expect(isClosed(pad, [finding({})])).toBe(false);
    expect(isClosed({ ...pad, of: given({ findings: [finding({})] }) }, [finding({})])).toBe(true);
    expect(isClosed({ ...pad, of: given({ findings: [finding({ limit: '≥ 5.5 mm' })] }) }, [finding({})])).toBe(false);
    expect(isClosed(pad, [finding({ position: 'RR.in' })])).toBe(true);
  });
});

// Common practice: what a driver wears, how it fits him, what he felt and what he signs goes with the driver.
test('what is worn, fitted, felt or signed is about the driver, whatever the catalogue gets', () => {
  const worn =
    /helmet|cloth|suit|glove|shoe|eyewear|head-restraint|arm-restraint|angles|rollover.clearance|symptoms|true-and/;
  expect(
    CATALOGUE.map(({ key }) => key)
      .filter((key) => worn.test(key))
      .toSorted(),
  ).toEqual([...ABOUT_DRIVER].toSorted());
});
