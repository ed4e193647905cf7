import { POSITION_KEYS } from '../../src/domain/catalogue/item.ts';
import type { Result } from '../../src/domain/rules/model/finding.ts';
import type { ExampleCase, Setting } from './example-case.ts';

type Cases = Readonly<Record<string, readonly ExampleCase[]>>;

const one = (shows: string, result: Result | 'absent', setting: Setting = {}): ExampleCase => ({
  shows,
  result,
  ...setting,
});

const oil = (reading: number, hot: boolean | null, minutes: number | null, more: Setting = {}): Setting => ({
  ...more,
  answers: {
    'oil.level.reading': reading,
    'oil.level.at-operating-temperature': hot,
    'oil.level.minutes-since-shutdown': minutes,
  },
});
const window = (from: number, to: number): Setting => ({
  parameters: { oilReadAfterMinimum: { value: from, unit: 'min' }, oilReadAfterMaximum: { value: to, unit: 'min' } },
});
/** what the maker of the car says */
const own = (from: number, to: number): Setting => ({ vehicle: { oilReadFromMinutes: from, oilReadToMinutes: to } });
const DRY: Setting = { vehicle: { sump: 'dry' } };
const STICK: Setting = { vehicle: { sump: 'wet', oilLevelMethod: 'dipstick' } };
const DISPLAY: Setting = { vehicle: { oilLevelMethod: 'electronic' } };

/** Too much, or less than half, is said where the level was read hot and in time: by the car's record, else the group. */
const oilCases = (bad: number): ExampleCase[] => [
  one('read at 5 minutes: judged', 'not-met', oil(bad, true, 5)),
  one('read at 10 minutes: judged', 'not-met', oil(bad, true, 10)),
  one('read at 11 minutes: not judged, to be read again', 'absent', oil(bad, true, 11)),
  one('read cold', 'absent', oil(bad, false, 7)),
  one('from 3 minutes, as the organizer allows', 'not-met', oil(bad, true, 3, window(3, 10))),
  one('earlier than the organizer allows', 'absent', oil(bad, true, 2, window(3, 10))),
  one('to 15 minutes, as the organizer allows', 'not-met', oil(bad, true, 15, window(5, 15))),
  one('later than the organizer allows', 'absent', oil(bad, true, 16, window(5, 15))),
  one('a window that is narrower than common practice', 'not-met', oil(bad, true, 6, window(8, 9))),
  one('cold, whatever the window', 'absent', oil(bad, false, 15, window(5, 15))),
  one('at 2 minutes, as the record of the car says', 'not-met', oil(bad, true, 2, own(1, 3))),
  one('at 7 minutes, where the record of the car says 1 to 3', 'absent', oil(bad, true, 7, own(1, 3))),
  one('dry sump, hot: no waiting', 'not-met', oil(bad, true, null, DRY)),
  one('dry sump, not hot', 'absent', oil(bad, false, null, DRY)),
  one('display, hot: no waiting', 'not-met', oil(bad, true, null, DISPLAY)),
  one('time not answered', 'unanswerable', oil(bad, true, null)),
];

/** what only the line can answer is not known yet */
const INSPECT = { expect: 'to-inspect' } as const;
const OIL: Cases = {
  'oil-overfilled': oilCases(1.01),
  'oil-level-hot-low': oilCases(0.49),
  'oil-level-at-the-line': [
    { ...one('read cold: the line reads it again', 'unanswerable', oil(4, false, 7)), expect: 'to-inspect' },
    one('read an hour after shutdown, not read again at the line', 'unanswerable', {
      ...oil(4, true, 60),
      stage: 'line',
    }),
    one('read again at the lower mark', 'met', { ...oil(4, true, 60), measured: { 'oil.level.at-the-line': 0 } }),
    one('read again below it', 'not-met', { ...oil(4, true, 60), measured: { 'oil.level.at-the-line': -0.01 } }),
    one('read again at the upper mark', 'met', { ...oil(4, true, 4), measured: { 'oil.level.at-the-line': 1 } }),
    one('read again above it', 'not-met', { ...oil(4, false, 7), measured: { 'oil.level.at-the-line': 1.01 } }),
    one('read as it should be', 'absent', oil(0.8, true, 5)),
    one('read as it should be, at the end of the time', 'absent', oil(0.8, true, 10)),
    { ...one('11 minutes', 'unanswerable', oil(0.8, true, 11)), ...INSPECT },
    { ...one('4 minutes', 'unanswerable', oil(0.8, true, 4)), ...INSPECT },
    one('3 minutes, as the organizer allows', 'absent', oil(0.8, true, 3, window(3, 10))),
    one('15 minutes, as the organizer allows', 'absent', oil(0.8, true, 15, window(5, 15))),
    one('2 minutes, as the record of the car says', 'absent', oil(0.8, true, 2, own(1, 3))),
    { ...one('7 minutes, where the record says 1 to 3', 'unanswerable', oil(0.8, true, 7, own(1, 3))), ...INSPECT },
    one('dry sump, hot', 'absent', oil(0.8, true, null, DRY)),
  ],
  'oil-below-band': [
    one('dry stick, read cold', 'not-met', oil(-2, false, 7)),
    one('below the mark an hour after shutdown', 'not-met', oil(-0.1, true, 60)),
    one('below the mark, nothing known of the reading', 'not-met', oil(-0.1, null, null)),
  ],
  'oil-level-read-in-time': [
    one('5 minutes', 'met', oil(0.8, true, 5)),
    one('4 minutes', 'not-met', oil(0.8, true, 4)),
    one('10 minutes', 'met', oil(0.8, true, 10)),
    one('11 minutes', 'not-met', oil(0.8, true, 11)),
    one('2 minutes, where the record of the car says 1 to 2', 'met', oil(0.8, true, 2, own(1, 2))),
    one('1 minute, where the record of the car says 1 to 2', 'met', oil(0.8, true, 1, own(1, 2))),
    one('7 minutes, where the record of the car says 1 to 2', 'not-met', oil(0.8, true, 7, own(1, 2))),
    one('0 minutes, where the record of the car says 1 to 2', 'not-met', oil(0.8, true, 0, own(1, 2))),
    one('a wet sump that is read by a stick', 'met', oil(0.8, true, 5, STICK)),
    one('a dry sump is read as its maker says', 'absent', oil(0.8, true, 60, DRY)),
    one('a display is read at once', 'absent', oil(0.8, true, 0, DISPLAY)),
    one('not answered', 'unanswerable', oil(0.8, true, null)),
  ],
};

const level = (item: string, given: Readonly<Record<string, string>>): Setting => ({ answers: { [item]: given } });
/** Only worn pads, or a system that was just opened, make a low level of brakes or clutch harmless. */
const hydraulics = (item: string): ExampleCase[] => [
  one('right level needs no reason', 'met', level(item, { level: 'ok' })),
  one('too full needs no reason', 'met', level(item, { level: 'over-full' })),
  one('low, pads worn', 'met', level(item, { level: 'low', reason: 'pads-worn' })),
  one('low, just opened for work', 'met', level(item, { level: 'low', reason: 'opened-for-work' })),
  one('low, a leak', 'not-met', level(item, { level: 'low', reason: 'leak' })),
  one('low, not known why', 'not-met', level(item, { level: 'low', reason: 'not-known' })),
  one('low, no reason named', 'not-met', level(item, { level: 'low' })),
  one('low, words instead of a reason', 'not-met', level(item, { level: 'low', cause: 'worn pads, replaced' })),
];
const gearOil = (item: string): ExampleCase[] => [
  one('right level needs no reason', 'met', level(item, { level: 'at-hole' })),
  one('low, just opened', 'met', level(item, { level: 'low', reason: 'opened-for-work' })),
  one('low, a leak', 'not-met', level(item, { level: 'low', reason: 'leak' })),
  one('low, words instead of a reason', 'not-met', level(item, { level: 'low', cause: 'worn seal' })),
];
const leaking = (item: string): ExampleCase[] => [
  one('filled up again, the leak is still there', 'not-met', level(item, { level: 'ok', reason: 'leak' })),
  one('filled up again, nobody knows where it went', 'not-met', level(item, { level: 'ok', reason: 'not-known' })),
  one('another reason', 'met', level(item, { level: 'low', reason: 'pads-worn' })),
  one('no reason named', 'absent', level(item, { level: 'low' })),
];

const lowWith = (reason: string | null, mm: number): Setting => ({
  answers: { 'brake-fluid.level': { level: 'low', reason }, 'pad.thickness': { 'FL.in': 12, 'RR.out': mm } },
});
const LEVELS: Cases = {
  'brake-fluid-low-explained': hydraulics('brake-fluid.level'),
  'clutch-fluid-low-explained': hydraulics('clutch-fluid.level'),
  'brake-fluid-pads-not-worn': [
    one('low, and a pad of 7 mm', 'met', lowWith('pads-worn', 7)),
    one('low, and no pad below 7.1 mm', 'not-met', lowWith('pads-worn', 7.1)),
    one('low, another reason', 'absent', lowWith('opened-for-work', 12)),
    one('low, no reason: another rule', 'absent', lowWith(null, 12)),
    one('level right', 'absent', {
      answers: { ...lowWith('pads-worn', 12).answers, 'brake-fluid.level': { level: 'ok', reason: 'pads-worn' } },
    }),
  ],
  'brake-fluid-leak': leaking('brake-fluid.level'),
  'clutch-fluid-leak': leaking('clutch-fluid.level'),
  'gearbox-fluid-low-explained': gearOil('gearbox-fluid.level'),
  'differential-fluid-low-explained': gearOil('differential-fluid.level'),
};

type Fluid = (typeof POSITION_KEYS)['fluid'][number];
const leaks = (fluid: Fluid, found: string | null, reaches?: string): Setting => ({
  answers: {
    'engine.leaks': { ...Object.fromEntries(POSITION_KEYS.fluid.map((each) => [each, 'none'])), [fluid]: found },
    ...(reaches !== undefined && { 'engine.weep-reaches': { [fluid]: reaches } }),
  },
});
const at = (fluid: Fluid, shows: string, result: Result | 'absent', setting: Setting): ExampleCase => ({
  ...one(shows, result, setting),
  at: { [fluid]: result },
});

const LEAKS: Cases = {
  'engine-leak-fuel-or-brake': [
    at('fuel', 'dry', 'met', leaks('fuel', 'none')),
    at('fuel', 'fuel weeps', 'not-met', leaks('fuel', 'weep')),
    at('brake-fluid', 'brake fluid weeps', 'not-met', leaks('brake-fluid', 'weep')),
    at('fuel', 'nobody looked', 'unanswerable', leaks('fuel', null)),
    { ...one('oil weeps: another rule', 'met', leaks('engine-oil', 'weep')), at: { 'engine-oil': 'absent' } },
  ],
  'engine-leak-weep': [
    at('engine-oil', 'dry', 'met', leaks('engine-oil', 'none')),
    at('engine-oil', 'oil weeps', 'not-met', leaks('engine-oil', 'weep')),
    at('power-steering', 'steering fluid weeps', 'not-met', leaks('power-steering', 'weep')),
    { ...one('fuel weeps: another rule', 'met', leaks('fuel', 'weep')), at: { fuel: 'absent' } },
    { ...one('brake fluid weeps: another rule', 'met', leaks('brake-fluid', 'weep')), at: { 'brake-fluid': 'absent' } },
  ],
  'engine-leak-weep-reaches': [
    at('engine-oil', 'reaches nothing that matters', 'met', leaks('engine-oil', 'weep', 'none-of-these')),
    at('engine-oil', 'reaches the exhaust', 'not-met', leaks('engine-oil', 'weep', 'exhaust')),
    at('gearbox-oil', 'reaches a tyre', 'not-met', leaks('gearbox-oil', 'weep', 'tyre')),
    at('coolant', 'reaches a belt', 'not-met', leaks('coolant', 'weep', 'belt')),
    at('engine-oil', 'not said where it goes: another rule', 'absent', leaks('engine-oil', 'weep')),
    at('engine-oil', 'does not weep', 'absent', leaks('engine-oil', 'none', 'exhaust')),
    at('engine-oil', 'nobody looked', 'absent', leaks('engine-oil', null, 'exhaust')),
  ],
  'engine-leak-weep-where': [
    at('engine-oil', 'said where it goes', 'met', leaks('engine-oil', 'weep', 'exhaust')),
    at('engine-oil', 'not said where it goes', 'not-met', leaks('engine-oil', 'weep')),
    at('engine-oil', 'does not weep', 'absent', leaks('engine-oil', 'none')),
    at('engine-oil', 'nobody looked', 'absent', leaks('engine-oil', null)),
    at('fuel', 'fuel weeps: another rule', 'absent', leaks('fuel', 'weep')),
    at('brake-fluid', 'brake fluid weeps: another rule', 'absent', leaks('brake-fluid', 'weep')),
  ],
};

/** Oil, fluid levels and leaks. */
export const FLUID_CASES: Cases = { ...OIL, ...LEVELS, ...LEAKS };
