import { POSITION_KEYS } from '../../src/domain/catalogue/item.ts';
import type { RawAnswers } from '../../src/domain/declaration/declaration.ts';
import type { Result } from '../../src/domain/rules/model/finding.ts';
import type { ExampleCase, Setting } from './example-case.ts';

type Cases = Readonly<Record<string, readonly ExampleCase[]>>;

const one = (shows: string, result: Result | 'absent', setting: Setting = {}): ExampleCase => ({
  shows,
  result,
  ...setting,
});
const wheels = (value: unknown, FL: unknown = value) => ({
  ...Object.fromEntries(POSITION_KEYS.wheel.map((wheel) => [wheel, value])),
  FL,
});
const zones = (mm: number | null, FL: number | null = mm) => ({
  ...Object.fromEntries(POSITION_KEYS['wheel-zone'].map((zone) => [zone, mm])),
  'FL.inner': FL,
});
const say = (answers: RawAnswers, more: Setting = {}): Setting => ({ ...more, answers });
const perPlace = (isAsked: boolean): Setting => ({ parameters: { treadAtThreePlaces: { value: isAsked } } });
const dateCode = (FL: string | null, kind?: string): Setting =>
  say({ 'tyre.date-code': wheels('2324', FL), ...(kind !== undefined && { 'tyre.kind': kind }) });
const ofKind = (kind: string, answers: RawAnswers = {}): Setting => say({ 'tyre.kind': kind, ...answers });

/** UK MOT inspection manual for cars, section 5: 1.6 mm. Slicks have no tread, their holes say what is left (common practice). */
const TREAD: Cases = {
  'tyre-tread': [
    one('a slick has none', 'absent', ofKind('slick', { 'tyre.tread': zones(0) })),
    one('nothing answered where each place is asked', 'unanswerable', perPlace(true)),
    one('nothing answered where one value is enough', 'absent', perPlace(false)),
    {
      ...one('a place that was measured counts in every group', 'not-met', {
        ...perPlace(false),
        ...say({ 'tyre.tread': { 'FL.inner': 1.5 } }),
      }),
      at: { 'FL.outer': 'absent' },
    },
    one('a track-day tyre of 1.8 mm', 'met', ofKind('track-day', { 'tyre.tread': zones(1.8) })),
    {
      ...one('1.7 mm declared is too close to call', 'unanswerable', ofKind('track-day', { 'tyre.tread': zones(1.7) })),
      expect: 'to-inspect',
    },
  ],
  'tyre-tread-lowest': [
    one('1.5 mm', 'not-met', { ...perPlace(false), ...say({ 'tyre.tread-lowest': wheels(1.8, 1.5) }) }),
    one('nothing answered', 'unanswerable', perPlace(false)),
    one('all three places were measured', 'absent', { ...perPlace(false), ...say({ 'tyre.tread': zones(5) }) }),
    {
      ...one('one place of a tyre is missing', 'unanswerable', {
        ...perPlace(false),
        ...say({ 'tyre.tread': zones(5, null) }),
      }),
      at: { FL: 'unanswerable', FR: 'absent' },
    },
    one('another group asks for three places', 'absent', perPlace(true)),
    one('given all the same, it counts', 'not-met', {
      ...perPlace(true),
      ...say({ 'tyre.tread-lowest': wheels(5, 1) }),
    }),
    one('a slick has none', 'absent', { ...perPlace(false), ...ofKind('slick') }),
  ],
  'tyre-wear-even': [
    one('not all places measured', 'absent', say({ 'tyre.tread': { 'FL.inner': 3 } })),
    one('a slick', 'absent', ofKind('slick', { 'tyre.tread': zones(0, 5) })),
  ],
  'slick-wear-holes': [
    one('nobody has looked', 'unanswerable', ofKind('slick')),
    one('not a slick', 'absent', ofKind('road', { 'tyre.wear-holes': wheels('some-gone') })),
  ],
  'slick-no-wear-holes': [one('not a slick', 'absent', ofKind('road', { 'tyre.wear-holes': wheels('none-made') }))],
  'slick-age-known': [
    one('a date is there', 'met', ofKind('slick', { 'tyre.date-code': wheels('2324') })),
    one('none is there', 'not-met', ofKind('slick')),
    one('a rain tyre without one', 'not-met', ofKind('rain')),
    one('not a racing tyre', 'absent', ofKind('road')),
  ],
  'tyre-kind': [one('not said', 'absent')],
  'tyre-date-code-four-digits': [
    one('week 35 of 2000', 'met', say({ 'tyre.date-code': wheels('3500') })),
    one('three digits, from before July 2000', 'not-met', dateCode('439')),
    one('three digits on a road tyre', 'not-met', dateCode('439', 'road')),
    one('three digits on a slick', 'not-met', dateCode('439', 'slick')),
    one('as it is printed', 'met', say({ 'tyre.date-code': wheels('DOT 4B9K 1X2Y 2324') })),
    one('not answered', 'unanswerable'),
    one('a slick without one', 'absent', ofKind('slick')),
    one('a rain tyre without one', 'absent', ofKind('rain')),
    one('a road tyre without one', 'unanswerable', ofKind('road')),
    one(
      'a road tyre said to carry none',
      'unanswerable',
      ofKind('road', { 'tyre.date-code': wheels({ doesNotApply: 'no-marking' }) }),
    ),
  ],
  // the last event day is 2026-06-14, a Sunday; week 24 of 2016 began on 12 June, ISO on 13 June
  'tyre-age': [
    one('week 26 of 2016 is not ten years old', 'met', dateCode('2616')),
    one('week 24 of 2016 is ten years old', 'not-met', dateCode('2416')),
    one('the same of a road tyre', 'not-met', dateCode('2416', 'road')),
    one('the same of a slick', 'not-met', dateCode('2416', 'slick')),
    one('three digits', 'unanswerable', dateCode('239')),
    one('made after the event', 'unanswerable', dateCode('4026')),
    one('not answered', 'unanswerable', dateCode(null)),
    one('a slick without a date', 'absent', ofKind('slick')),
    one('a rain tyre without a date', 'absent', ofKind('rain')),
    one('a road tyre without a date', 'unanswerable', ofKind('road')),
    one(
      'a road tyre said to carry none',
      'unanswerable',
      ofKind('road', { 'tyre.date-code': wheels({ doesNotApply: 'no-marking' }) }),
    ),
  ],
  'tyre-age-inspect': [
    one('week 26 of 2020 is not six years old', 'met', dateCode('2620')),
    one('week 24 of 2020 is six years old', 'not-met', dateCode('2420')),
    one('the same of a road tyre', 'not-met', dateCode('2420', 'road')),
    one('the same of a slick', 'not-met', dateCode('2420', 'slick')),
    one('not answered', 'unanswerable', dateCode(null)),
    one('a slick without a date', 'absent', ofKind('slick')),
    one('a road tyre without a date', 'unanswerable', ofKind('road')),
  ],
};

/** Load index 91: 615 kg; Q 160, H 210, T 190 km/h (UNECE R30 tables, on public charts) */
const marked = (FL: string | null, more: Setting = {}): Setting => ({
  ...more,
  answers: { ...more.answers, 'tyre.rating': wheels('110Y', FL) },
});
const axle = (front: unknown, rear: unknown = front) => ({ 'tyre.axle-marking': { front, rear } });
const at = (venueKmh?: number, carKmh?: number): Setting => ({
  venue: venueKmh === undefined ? {} : { topSpeedKmh: venueKmh },
  ...(carKmh !== undefined && { vehicle: { topSpeedKmh: carKmh } }),
});
const weighing = (rating: string, massKg: number): Setting => ({
  ...at(210),
  vehicle: { massKg },
  ...say({ 'tyre.rating': wheels(rating) }),
});
const loaded = (front: number): Setting => ({ ...at(210), vehicle: { axleLoadKg: { front, rear: 900 } } });

const MARKING: Cases = {
  'tyre-rating-declared': [
    one('at each wheel', 'met', say({ 'tyre.rating': wheels('91W') })),
    one('once for each axle', 'met', say(axle({ same: true, rating: '91w' }))),
    one('one is missing', 'not-met', say({ 'tyre.rating': wheels('91W', null) })),
    one('a slick carries none', 'absent', ofKind('slick')),
  ],
  'tyre-speed': [
    one('H at 220 km/h in a car that reaches it', 'met', marked('91H', at(220, 250))),
    one('H at 221 km/h in a car that reaches it', 'not-met', marked('91H', at(221, 250))),
    one('Q at 224 km/h', 'not-met', marked('91Q', at(224))),
    one('Q at 224 km/h in a car that reaches 165', 'met', marked('91Q', at(224, 165))),
    one('T at 224 km/h, the car is not known', 'met', marked('91T', at(224))),
    one('Q at 210 km/h, the car is not known', 'met', marked('91Q', at(210))),
    one('Q at 211 km/h, the car is not known', 'not-met', marked('91Q', at(211))),
    one('the circuit is not known, the car is', 'not-met', marked('91Q', at(undefined, 224))),
    one('once for the axle', 'not-met', { ...at(224, 230), ...say(axle({ same: true, rating: '91Q' })) }),
    one('a symbol of no table', 'met', { ...marked('91B', at(224)) }),
    one('no speed is known', 'absent', marked('91Q')),
    one('not declared: another rule asks for it', 'absent', at(224)),
  ],
  'tyre-speed-look': [
    one('H at 210 km/h', 'met', marked('91H', at(210))),
    one('H at 211 km/h', 'not-met', marked('91H', at(211))),
    one('H at 211 km/h in a car that reaches 200', 'met', marked('91H', at(211, 200))),
    one('a symbol of no table', 'not-met', marked('91B', at(100))),
    one('no speed is known', 'not-met', marked('91W')),
    one('not declared: another rule asks for it', 'absent', at(224)),
    one('a rain tyre', 'absent', { ...at(224), ...ofKind('rain', { 'tyre.rating': wheels('91Q') }) }),
  ],
  'tyre-load': [
    one('615 kg on each of two tyres of 615 kg', 'met', marked('91H', loaded(1230))),
    one('624 kg on each', 'not-met', marked('91H', loaded(1248))),
    one('once for the axle', 'not-met', { ...loaded(1248), ...say(axle({ same: true, rating: '91H' })) }),
    one('not declared: another rule asks for it', 'absent', loaded(1230)),
    one('neither axle load nor mass is known', 'absent', marked('60H', at(210))),
    one('the mass alone: four tyres of 615 kg for 2460 kg', 'met', weighing('91H', 2460)),
    one('the mass alone: four tyres of 615 kg for 2480 kg', 'not-met', weighing('91H', 2480)),
  ],
  'tyre-load-far': [
    one('a tenth too much', 'met', marked('91H', loaded(1353))),
    one('more than a tenth too much', 'not-met', marked('91H', loaded(1366))),
    one('neither axle load nor mass is known', 'absent', marked('60H', at(210))),
    one('the mass alone, far more than the four tyres carry', 'not-met', weighing('70H', 1680)),
  ],
  'tyre-axle-alike': [one('not said', 'absent')],
  'tyre-axle-known': [
    one('said', 'met', say(axle({ same: true }))),
    one('both markings read', 'met', say({ 'tyre.rating': wheels('91W') })),
    one('neither', 'not-met'),
  ],
  'tyre-axle-load-index': [
    one('91 beside 95, standard and reinforced', 'met', say({ 'tyre.rating': wheels('91W', '95W XL') })),
    one('91 beside 96', 'not-met', say({ 'tyre.rating': wheels('91W', '96W') })),
    one('91W beside 75T', 'not-met', say({ 'tyre.rating': wheels('91W', '75T') })),
    one('one is missing', 'absent', say({ 'tyre.rating': { FL: '91W', RL: '91W' } })),
  ],
  'tyre-axle-ratings': [
    one('alike, however they are typed', 'met', say({ 'tyre.rating': wheels('91W', '205/55 R16 91w') })),
    one('another speed symbol', 'not-met', say({ 'tyre.rating': wheels('91W', '91V') })),
    one('one is missing', 'absent', say({ 'tyre.rating': { FL: '91W', RL: '91W' } })),
  ],
};

const cold = (kPa: number, FL: number | null = kPa): Setting => say({ 'tyre.cold-pressure': wheels(kPa, FL) });
const PLACARD = { coldPressurePlacardKpa: { front: 220, rear: 220 } };
const VAN_PLACARD = { coldPressurePlacardKpa: { front: 430, rear: 430 } };
const PRESSURE: Cases = {
  'tyre-cold-pressure': [one('not measured', 'absent')],
  'tyre-cold-pressure-known': [one('measured', 'met', cold(220)), one('not measured', 'not-met', cold(220, null))],
  'tyre-cold-pressure-possible': [
    one('a flat tyre', 'not-met', cold(220, 0)),
    one('690 kPa', 'not-met', cold(220, 690)),
    one('361 kPa where the placard asks for 220', 'not-met', { ...cold(220, 361), vehicle: PLACARD }),
    one('a van whose placard asks for 430 kPa', 'absent', { ...cold(430), vehicle: VAN_PLACARD }),
    one('360 kPa are what any car may have', 'met', { ...cold(360), vehicle: VAN_PLACARD }),
    one('a fifth above its placard', 'absent', { ...cold(516), vehicle: VAN_PLACARD }),
    one('more than a fifth above its placard', 'not-met', { ...cold(430, 517), vehicle: VAN_PLACARD }),
    one('not measured: another rule asks for it', 'absent'),
  ],
  'tyre-cold-pressure-placard': [
    one('132 of 220 kPa', 'met', { ...cold(132), vehicle: PLACARD }),
    one('131 of 220 kPa', 'not-met', { ...cold(220, 131), vehicle: PLACARD }),
    one('a road tyre', 'not-met', {
      ...say({ 'tyre.cold-pressure': wheels(100), 'tyre.kind': 'road' }),
      vehicle: PLACARD,
    }),
    one('a slick', 'absent', { ...say({ 'tyre.cold-pressure': wheels(100), 'tyre.kind': 'slick' }), vehicle: PLACARD }),
    one('a rain tyre', 'absent', {
      ...say({ 'tyre.cold-pressure': wheels(100), 'tyre.kind': 'rain' }),
      vehicle: PLACARD,
    }),
    one('no placard on record', 'absent', cold(100)),
    one('not measured', 'absent', { vehicle: PLACARD }),
  ],
  'tyre-pressure-axle': [
    one('70 kPa apart', 'met', cold(220, 150)),
    one('71 kPa apart', 'not-met', cold(220, 149)),
    one('145 and 299 kPa on one axle', 'not-met', cold(299, 145)),
    one('one is missing', 'absent', say({ 'tyre.cold-pressure': { FL: 200, RL: 200 } })),
  ],
  'tyre-pressure-axle-look': [
    one('30 kPa apart', 'met', cold(220, 190)),
    one('31 kPa apart', 'not-met', cold(220, 251)),
    one('one is missing', 'absent', say({ 'tyre.cold-pressure': { FL: 200, RL: 200 } })),
  ],
};

/** Cases of tyres: tread, kind, marking, pressures. */
export const TYRE_CASES: Cases = { ...TREAD, ...MARKING, ...PRESSURE };
