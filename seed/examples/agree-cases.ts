import { POSITION_KEYS } from '../../src/domain/catalogue/item.ts';
import type { RawAnswers } from '../../src/domain/declaration/declaration.ts';
import type { Result } from '../../src/domain/rules/model/finding.ts';
import type { ExampleCase, Setting } from './example-case.ts';

type Cases = Readonly<Record<string, readonly ExampleCase[]>>;

const one = (shows: string, result: Result | 'absent', answers: RawAnswers = {}, more: Setting = {}): ExampleCase => ({
  shows,
  result,
  ...more,
  answers,
});
const wheels = (value: unknown) => Object.fromEntries(POSITION_KEYS.wheel.map((wheel) => [wheel, value]));

/** the year in the name of the standard */
const YEAR_OF_STANDARD: readonly (readonly [string, number])[] = [
  ['Snell SA2025', 2025],
  ['FIA 8859-2024', 2024],
  ['Snell SA2020', 2020],
  ['Snell M2020', 2020],
  ['FIA 8860-2018', 2018],
  ['FIA 8860-2018-ABP', 2018],
  ['Snell SA2015', 2015],
  ['FIA 8859-2015', 2015],
  ['Snell M2015', 2015],
  ['Snell SA2010', 2010],
  ['FIA 8860-2010', 2010],
];
const helmet = (standard: string, madeOn: string): RawAnswers => ({
  'helmet.standard': standard,
  'helmet.made-on': madeOn,
});

const set = (setting: number, torque?: number): RawAnswers => ({
  'wheel.torque-setting': setting,
  ...(torque !== undefined && { 'wheel.torque': wheels(torque) }),
});
const MAKER = { vehicle: { wheelNutTorqueNm: 110 } };
const NARROW = { vehicle: { wheelNutTorqueNm: 110, wheelNutTorqueToleranceNm: 5 } };

const STAMPED = { vehicle: { rotorMinimumThicknessMm: { FL: 22, FR: 22, RL: 22, RR: 22 } } };
const rotor = (thickness: number): RawAnswers => ({ 'rotor.thickness': wheels(thickness) });

const longPedal = (cause: string, more: RawAnswers = {}): RawAnswers => ({
  'debrief.long-pedal-after-laps': { cause, repair: 'replaced' },
  ...more,
});
const flushed = (day: string): RawAnswers => longPedal('old-fluid', { 'brake-fluid.flushed-on': day });
const tested = (measured: number): Setting => ({ measured: { 'brake-fluid.measured-boiling-point': measured } });
const pads = (thickness: number): RawAnswers => ({
  'pad.thickness': Object.fromEntries(POSITION_KEYS['wheel-side'].map((place) => [place, thickness])),
});

/**
 * Answers that cannot both be true: a helmet before its standard, a wrench beside the wheels, a tank beside the record. The
 * last event day is 2026-06-14; the limits are common practice.
 */
export const AGREE_CASES: Cases = {
  'helmet-made-for-its-standard': [
    ...YEAR_OF_STANDARD.flatMap(([standard, year]) => [
      one(`${standard} made in ${year - 1}`, 'met', helmet(standard, `${year - 1}-01-01`)),
      one(`${standard} made in ${year - 2}`, 'not-met', helmet(standard, `${year - 2}-12-31`)),
    ]),
    one('the name of the standard has no year', 'met', helmet('ECE 22.05', '2012-01-01')),
    one('no date: another rule asks for it', 'absent', { 'helmet.standard': 'Snell SA2020' }),
    one('no standard: another rule asks for it', 'absent', { 'helmet.made-on': '2021-05-01' }),
  ],
  'wheel-torque-setting-agrees': [
    one('set to what the wheels have', 'met', set(110, 110), MAKER),
    one('within a tenth of the maker’s torque', 'met', set(99, 110), MAKER),
    one('60 N·m, and 110 at the wheels', 'not-met', set(60, 110), MAKER),
    one('outside of the maker’s own tolerance', 'not-met', set(104, 110), NARROW),
    one('no torque on record, both alike', 'met', set(110, 110)),
    one('no torque on record, more than a tenth apart', 'not-met', set(98, 110)),
    one('the wheels were not read', 'absent', set(60), MAKER),
    one('the setting was not said', 'absent', { 'wheel.torque': wheels(110) }, MAKER),
  ],
  'gas-tank-on-record': [
    one('as on record', 'met', { 'fuel.gas': 'lpg' }, { vehicle: { gas: 'lpg' } }),
    one('none, and the record has one', 'not-met', { 'fuel.gas': 'none' }, { vehicle: { gas: 'lpg' } }),
    one('another one', 'not-met', { 'fuel.gas': 'cng' }, { vehicle: { gas: 'lpg' } }),
    one('the record has none', 'absent', { 'fuel.gas': 'lpg' }, { vehicle: { gas: 'none' } }),
    one('the record is silent', 'absent', { 'fuel.gas': 'lpg' }),
    one('not answered: another rule asks for it', 'absent', {}, { vehicle: { gas: 'lpg' } }),
  ],
  'rotor-thickness-likely': [
    one('5 mm above the minimum', 'met', rotor(27), STAMPED),
    one('more than 5 mm above the minimum', 'not-met', rotor(27.01), STAMPED),
    one('no minimum on record', 'absent', rotor(40)),
    one('not measured', 'absent', {}, STAMPED),
  ],
  'felt-long-pedal-fluid-changed': [
    one('changed 120 days before the last day', 'absent', flushed('2026-02-14')),
    {
      ...one('changed 121 days before: the line tests it', 'unanswerable', flushed('2026-02-13')),
      expect: 'to-inspect',
    },
    one('changed long before, 190 °C by the tester', 'met', flushed('2025-09-01'), tested(190)),
    one('changed long before, 189 °C by the tester', 'not-met', flushed('2025-09-01'), tested(189)),
    one('another cause', 'absent', longPedal('air-in-system', { 'brake-fluid.flushed-on': '2025-09-01' })),
    one('no date: another rule asks for it', 'absent', longPedal('old-fluid')),
  ],
  'felt-long-pedal-pads-renewed': [
    one('7.1 mm', 'met', longPedal('pads-worn', pads(7.1))),
    one('7 mm are no new pads', 'not-met', longPedal('pads-worn', pads(7))),
    one('not measured', 'unanswerable', longPedal('pads-worn')),
    one('another cause', 'absent', longPedal('old-fluid', pads(4))),
  ],
};
