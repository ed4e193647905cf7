import { expect, test } from 'vitest';
import { SYMPTOM_NAMES, stopSymptoms } from '../../../src/domain/log/session-log.ts';
import { entriesOf, LOOKS, NOTHING, STOPS } from '../../../src/web/garage/session/entries.ts';
import en from '../../../src/web/garage/session/text/en.json' with { type: 'json' };

const UNITS = { pressure: 'kPa', length: 'mm', torque: 'N·m' } as const;
const AT = '2026-06-13T10:00:00.000Z';
const made = (typed: Partial<typeof NOTHING>, torqueNm?: number) =>
  entriesOf({ ...NOTHING, ...typed }, UNITS, { torqueNm }, AT);

test('the page offers every symptom there is, and those that stop the car first', () => {
  expect([...STOPS, ...LOOKS].toSorted()).toEqual([...SYMPTOM_NAMES].toSorted());
  expect([...STOPS].toSorted()).toEqual(stopSymptoms(SYMPTOM_NAMES).toSorted());
  for (const symptom of SYMPTOM_NAMES) expect(en).toHaveProperty([`felt.${symptom}`]);
});

test('what stops the car is sent before anything else; each kind on its own', () => {
  const { bodies } = made({
    hot: { FL: '221', FR: '', RL: '', RR: '' },
    symptoms: ['smell-of-fuel'],
    pads: { front: '7,5', rear: '' },
    note: ' left it in the rain ',
  });
  expect(bodies).toEqual([
    { session: '1', at: AT, kind: 'symptom', symptoms: ['smell-of-fuel'] },
    { session: '1', at: AT, kind: 'pressures', values: { 'tyre.hot-pressure': { FL: { value: 221, unit: 'kPa' } } } },
    {
      session: '1',
      at: AT,
      kind: 'pads',
      values: { 'pad.thickness': { front: { basis: 'lowest-of-axle', value: { value: 7.5, unit: 'mm' } } } },
    },
    { session: '1', at: AT, kind: 'note', note: 'left it in the rain' },
  ]);
});

test('one tap says the torque of the car, cooled; a torque that is typed counts as typed', () => {
  const torque = (typed: Partial<typeof NOTHING>) => made(typed, 110).bodies[0];
  const values = { 'wheel.torque-setting': { value: 110, unit: 'N·m' } };
  expect(torque({ asRecorded: true })).toMatchObject({ values, wheelsCooled: true });
  expect(torque({ torque: '80 lbf·ft' })).toMatchObject({
    values: { 'wheel.torque-setting': { value: 80, unit: 'lbf·ft' } },
    wheelsCooled: false,
  });
});

test('laps are read as people say them', () => {
  const laps = (typed: Partial<typeof NOTHING>) => made(typed).bodies[0];
  expect(laps({ laps: '9', bestLap: '1:41,4' })).toMatchObject({ kind: 'laps', laps: 9, bestLapSeconds: 101.4 });
  expect(laps({ bestLap: '101.4' })).toEqual({ session: '1', at: AT, kind: 'laps', bestLapSeconds: 101.4 });
  expect(made({ laps: 'many', bestLap: '1:75' }).unreadable).toEqual(['laps', 'bestLap']);
});

test('a field that is no number is named, and an empty page comes to nothing', () => {
  expect(made({ torque: 'tight', hot: { FL: '8mm', FR: '', RL: '', RR: '' } }).unreadable).toEqual([
    'hot.FL',
    'torque',
  ]);
  expect(made({})).toEqual({ bodies: [], unreadable: [] });
});
