import { describe, expect, it } from 'vitest';
import { findItem } from '../../../../src/domain/catalogue/catalogue.ts';
import { POSITION_KEYS } from '../../../../src/domain/catalogue/item.ts';
import type { Fact } from '../../../../src/domain/facts/fact.ts';
import { factPlace, FACTS } from '../../../../src/domain/rules/model/facts.ts';
import { derive, JUNE, missing, runWith } from './facts-support.ts';

const VENUE = {
  topSpeedKmh: 210,
  lapLengthM: 3400,
  designAirTemperatureC: 28,
  brakingZones: [
    { fromKmh: 210, toKmh: 80 },
    { fromKmh: 190, toKmh: 90 },
    { fromKmh: 200, toKmh: 85 },
  ],
  soundDistanceM: 20,
};
const LIGHT = { ...VENUE, brakingZones: [{ fromKmh: 130, toKmh: 100 }] };
const vehicle = { description: 'Saloon, invented', massKg: 1400 };

describe('the registry', () => {
  const all = Object.entries(FACTS);

  it('has the facts that the rules of the trade need', () => {
    expect(all.map(([name]) => name).sort()).toEqual(
      [
        'alignmentChange',
        'brakeDutyClass',
        'brakeFluidAtBest',
        'brakeFluidClassAtWorst',
        'brakeFluidClassWet',
        'brakeFluidEstimate',
        'brakeFluidKind',
        'brakeFluidLowAtLine',
        'brakeFluidNeedHigh',
        'brakeFluidNeedLow',
        'clutchFluidKind',
        'clutchFluidLowAtLine',
        'padNeedLow',
        'brakeWetBoilingPointNeeded',
        'crossWeight',
        'harnessLabelAhead',
        'harnessLastDay',
        'harnessLastDaySurely',
        'helmetValidThrough',
        'hotPressureForecast',
        'hubEndFloat',
        'liningAxleDifference',
        'lowestPad',
        'lowestWheelTorque',
        'playBothWays',
        'steeringPlayAt380',
        'threadEngagement',
        'treadAtThreePlaces',
        'tyreLoadIndexDifference',
        'tyreLoadShare',
        'tyrePressureDifference',
        'tyreRatingsAlike',
        'tyreSpeedShortfall',
        'oilGradeHot',
        'oilReadInOwnWindow',
        'oilReadingValid',
        'padAxleDifference',
        'padHighTemperatureNeeded',
        'padThicknessAtEnd',
        'padsEachAnswered',
        'rollClearance',
        'soundLevelAtVenue',
        'steeringPlayLimit',
        'tyreAge',
        'tyreLoadOk',
        'tyreSpeedOk',
        'wheelPlayDiagnosis',
      ].sort(),
    );
  });

  it.each(all)('%s says what it is, where it comes from and which items it reads', (_name, fact) => {
    expect(fact.meaning).toMatch(/^[a-z]/);
    expect(fact.source.length).toBeGreaterThan(10);
    expect(fact.items.filter((key) => findItem(key) === undefined)).toEqual([]);
  });

  it.each(all)(
    '%s reads no item that it does not name, and says what is missing when nothing is known',
    (name, fact) => {
      const position = fact.scheme === undefined ? undefined : POSITION_KEYS[fact.scheme][0];
      const read: string[] = [];
      const input: Parameters<Fact['compute']>[0] = {
        vehicle: { description: 'any' },
        venue: {},
        event: JUNE,
        earlier: [],
        answer: (key) => {
          read.push(key);
          return undefined;
        },
        own: (key) => input.answer(key),
        given: (key) => input.answer(key),
        atLine: () => false,
        saidNone: () => false,
        need: (value) => value,
      };
      expect(fact.compute(input, position ?? '')).toBeUndefined();
      expect(read.filter((key) => !fact.items.includes(key))).toEqual([]);
      expect(missing(name, {}, position).join()).not.toBe('');
    },
  );
});

describe('what the venue asks of brakes', () => {
  it('is more where braking is harder, for the same car', () => {
    const needs = (venue: typeof VENUE) => [
      derive('brakeWetBoilingPointNeeded', { vehicle, venue }),
      derive('padHighTemperatureNeeded', { vehicle, venue }, 'front'),
      derive('padHighTemperatureNeeded', { vehicle, venue }, 'rear'),
    ];
    const [hard, light] = [needs(VENUE), needs(LIGHT)];
    hard.forEach((value, at) => expect(value).toBeGreaterThan(Number(light[at])));
    expect(derive('brakeDutyClass', { vehicle, venue: LIGHT })).toBe('light');
    expect(['heavy', 'severe']).toContain(derive('brakeDutyClass', { vehicle, venue: VENUE }));
  });

  it('is more for a heavier car, and asked of the hotter axle', () => {
    const front = (massKg: number) =>
      derive('padHighTemperatureNeeded', { vehicle: { ...vehicle, massKg }, venue: VENUE }, 'front');
    expect(front(1800)).toBeGreaterThan(Number(front(1400)));
  });

  it('is not known without zones or mass, and says which', () => {
    expect(missing('brakeDutyClass', { vehicle, venue: { ...VENUE, brakingZones: [] } })).toEqual([
      'The venue record has no braking zones',
    ]);
    expect(missing('brakeDutyClass', { venue: VENUE })).toEqual(['The vehicle record has no massKg']);
  });

  it('is not known where the zones cannot be: a lap shorter than its stops', () => {
    const venue = { ...VENUE, lapLengthM: 50 };
    expect(missing('padHighTemperatureNeeded', { vehicle, venue }, 'front')).toEqual([
      'The braking zones, the lap length and the mass of the car do not fit together',
    ]);
  });
});

describe('the friction material left at the end', () => {
  const at = (startsOn: string, mm: number, days = { daysBefore: 0, daysAfter: 2 }) => ({
    startsOn,
    endsOn: startsOn,
    ...days,
    padThicknessMm: { 'FL.in': mm },
  });
  const pad = (mm: number) => ({ 'pad.thickness': { 'FL.in': mm } });
  const left = (answers: Record<string, unknown>, earlier: ReturnType<typeof at>[], more = {}) =>
    derive('padThicknessAtEnd', { answers, earlier, ...more }, 'FL.in');

  // 9 to 7 mm in two days is 1 mm a day; two more days leave 5 mm
  it('goes on as it wore: one event before', () => {
    expect(left(pad(7), [at('2026-05-01', 9)])).toBe(5);
  });

  it('takes what the inspector measured', () => {
    expect(left(pad(7), [at('2026-05-01', 9)], { measured: pad(6) })).toBe(3);
  });

  it('counts the days before a measurement within an event, too', () => {
    // measured on the second of three days: 10 mm, a day before it and two after it; 8 mm now: 1 mm a day
    expect(left(pad(8), [at('2026-05-01', 10, { daysBefore: 1, daysAfter: 2 })])).toBe(6);
  });

  it('begins anew where the pads got thicker: they were changed', () => {
    const earlier = [at('2026-03-01', 4), at('2026-04-01', 12)];
    // 12 to 10 mm in two days
    expect(left(pad(10), earlier)).toBe(8);
    expect(left(pad(12.5), [at('2026-05-01', 4)])).toBeUndefined();
  });

  it('is not known without an earlier event, or when the car was not driven between two measurements', () => {
    const says = expect.stringContaining('No two measurements of the same pads at FL.in');
    expect(missing('padThicknessAtEnd', { answers: pad(7) }, 'FL.in')).toEqual([says]);
    const still = [at('2026-05-01', 9, { daysBefore: 0, daysAfter: 0 })];
    expect(missing('padThicknessAtEnd', { answers: pad(7), earlier: still }, 'FL.in')).toEqual([says]);
    expect(missing('padThicknessAtEnd', { earlier: [at('2026-05-01', 9)] }, 'FL.in')).toEqual([
      'No answer for "Friction material thickness" at FL.in',
    ]);
  });
});

describe('tyres', () => {
  const code = (text: string) => ({ answers: { 'tyre.date-code': { FL: text } } });

  // 49 CFR 574.5: 2416 is week 24 of 2016, which begins on 12 June 2016 at the earliest (Sunday weeks)
  it('are as old as the earliest day of their week, on the last event day', () => {
    expect(derive('tyreAge', code('2416'), 'FL')).toBe(120);
    expect(derive('tyreAge', code('2516'), 'FL')).toBe(119);
    expect(missing('tyreAge', code('239'), 'FL')).toEqual([expect.stringContaining('at FL is not a week and year')]);
    expect(derive('tyreAge', code('4026'), 'FL')).toBeUndefined();
  });

  // load index 91 is 615 kg, H is 210 km/h: tables of UNECE R30
  it('carry half of the axle load at the top speed, or not', () => {
    const known = (front: number, topSpeedKmh: number) => ({
      answers: { 'tyre.rating': { FL: '91H' } },
      vehicle: { ...vehicle, axleLoadKg: { front } },
      venue: { topSpeedKmh },
    });
    expect(derive('tyreLoadOk', known(1230, 210), 'FL')).toBe(true);
    expect(derive('tyreLoadOk', known(1232, 210), 'FL')).toBe(false);
    expect(derive('tyreSpeedOk', known(1230, 210), 'FL')).toBe(true);
    expect(derive('tyreSpeedOk', known(1230, 211), 'FL')).toBe(false);
    expect(missing('tyreLoadOk', { answers: { 'tyre.rating': { RR: '91H' } } }, 'RR')).toEqual([
      'The venue record has no topSpeedKmh',
      'The vehicle record has no axleLoadKg.rear',
    ]);
  });

  // gas law, at 101.325 kPa: (200 + 101.325)·348.15/301.15 − 101.325 = 247.03 kPa
  it('have the hot pressure that the gas law gives', () => {
    const answers = { 'tyre.cold-pressure': { FL: 200 } };
    expect(derive('hotPressureForecast', { answers, venue: VENUE }, 'FL')).toBe(247);
    expect(derive('hotPressureForecast', { answers, venue: {} }, 'FL')).toBeUndefined();
  });
});

describe('engine oil', () => {
  const read = (hot: boolean, minutes?: number) => ({
    'oil.level.reading': 0.7,
    'oil.level.at-operating-temperature': hot,
    ...(minutes !== undefined && { 'oil.level.minutes-since-shutdown': minutes }),
  });
  const valid = (answers: Record<string, unknown>, more = {}) => derive('oilReadingValid', { answers, ...more });

  // common practice, no source: hot, 5 to 10 minutes after shutdown
  it('is read at the right time', () => {
    expect([4, 5, 10, 11].map((minutes) => valid(read(true, minutes)))).toEqual([false, true, true, false]);
    expect(valid(read(false, 7))).toBe(false);
    expect(valid(read(true))).toBeUndefined();
    expect(valid(read(true), { vehicle: { description: 'dry', sump: 'dry' } })).toBe(true);
    expect(valid(read(true, 7), { measured: { 'oil.level.minutes-since-shutdown': 2 } })).toBe(false);
  });

  // SAE J300: the number after the dash
  it('has a hot grade', () => {
    const of = (grade: string) => derive('oilGradeHot', { answers: { 'oil.grade': grade } });
    expect([of('15W-50'), of('0W-20'), of('40'), of('10W'), of('15W50x')]).toEqual([50, 20, 40, undefined, undefined]);
  });
});

describe('chassis', () => {
  // 49 CFR 570.7(a) table 1: 2, 2 1/4, 2 1/2, 2 3/4 in at 16, 18, 20, 22 in
  it.each([
    [360, 50.8],
    [456, 50.8],
    [457, 57.2],
    [508, 63.5],
    [559, 69.9],
    [600, 69.9],
  ])('a steering wheel of %d mm may have %d mm of play', (wheelDiameter, limit) => {
    const answers = { 'steering.free-play': { play: 1, wheelDiameter } };
    expect(derive('steeringPlayLimit', { answers })).toBe(limit);
  });

  // common practice: 9-and-3 is the tie rod, 12-and-6 the bearing or a ball joint
  it('play is diagnosed from both checks, by axle, and only where it was felt', () => {
    const known = (nine: string, twelve: string) => ({
      answers: { 'wheel-play.nine-three': { FL: { felt: nine } }, 'wheel-play.twelve-six': { FL: { felt: twelve } } },
    });
    expect(derive('wheelPlayDiagnosis', known('felt', 'none'), 'FL')).toContain('in the linkage');
    expect(derive('wheelPlayDiagnosis', known('none', 'felt'), 'FL')).toContain('wheel bearing');
    expect(derive('wheelPlayDiagnosis', known('none', 'none'), 'FL')).toBeUndefined();
  });

  // published worked example: 700/600/900/600 is 53.57 % (600 + 900 of 2800)
  it('cross weight is the share of front right and rear left', () => {
    const answers = { 'setup.corner-weights': { FL: 700, FR: 600, RL: 900, RR: 600 } };
    expect(derive('crossWeight', { answers })).toBe(53.57);
    expect(missing('crossWeight', { answers: { 'setup.corner-weights': { FL: 700 } } })).toHaveLength(3);
  });

  it('alignment changes are told against what careful measurements differ by', () => {
    const answers = { 'setup.alignment': { FL: { camber: -2.5, toe: 0.5 } } };
    const baseline = { camberDeg: { FL: -2 }, toeMm: { FL: 0 } };
    // 0.5° of camber is twice 0.25°, 0.5 mm of toe half of 1 mm
    expect(derive('alignmentChange', { answers, vehicle: { ...vehicle, baseline } }, 'FL')).toBe(2);
    expect(derive('alignmentChange', { answers }, 'FL')).toBeUndefined();
  });
});

describe('safety', () => {
  const sound = (level: number, distance: number, method = 'static') => ({
    answers: { 'exhaust.sound-level': { level, distance, method } },
    venue: VENUE,
  });

  // inverse distance law: twice the distance is 6.02 dB less
  it('sound is stated at the distance of the venue, never from near the tailpipe', () => {
    expect(derive('soundLevelAtVenue', sound(98, 10))).toBe(92);
    expect(derive('soundLevelAtVenue', sound(91, 20, 'drive-by'))).toBe(91);
    for (const method of ['near-field', 'static', 'drive-by']) {
      expect(derive('soundLevelAtVenue', sound(93, 20, method))).toBe(93);
      expect(missing('soundLevelAtVenue', sound(98, 0.5, method))).toEqual([
        expect.stringContaining('near-field level says nothing'),
      ]);
    }
  });

  it('roll-over clearance is taken straight up', () => {
    const of = (helmetTopX: number) =>
      derive('rollClearance', {
        answers: {
          'rollover.clearance': {
            hoopTopX: 0,
            hoopTopZ: 1200,
            frontX: 1000,
            frontZ: 1100,
            helmetTopX,
            helmetTopZ: 1090,
          },
        },
      });
    // half way the line is at 1150
    expect([of(500), of(1200)]).toEqual([60, undefined]);
  });

  // usual club rule: ten years from the year of the standard
  it('helmets of a Snell SA standard end ten years after its year', () => {
    const of = (standard: string) =>
      derive('helmetValidThrough', { answers: { 'helmet.standard': standard, 'helmet.made-on': '2020-05-01' } });
    expect([of('Snell SA2015'), of('Snell SA2020'), of('FIA 8859-2015'), of('ECE 22.06')]).toEqual([
      '2025-12-31',
      '2030-12-31',
      '9999-12-31',
      undefined,
    ]);
  });
});

describe('deriving', () => {
  const registry = FACTS as Record<string, Fact>;
  const withFact = (compute: Fact['compute'], use: () => void): void => {
    registry['ofThisTest'] = { type: { kind: 'bool' }, meaning: 'a test', source: 'of this test', items: [], compute };
    try {
      use();
    } finally {
      delete registry['ofThisTest'];
    }
  };

  it('happens once per judgement, however often a fact is read', () => {
    let times = 0;
    withFact(
      () => {
        times += 1;
        return true;
      },
      () => {
        const run = runWith({});
        const place = factPlace('ofThisTest', undefined, JUNE);
        expect([place.derive(run), place.derive(run), factPlace('ofThisTest', undefined, JUNE).derive(run)]).toEqual([
          true,
          true,
          true,
        ]);
        expect(times).toBe(1);
      },
    );
  });

  it('that throws gives nothing', () => {
    withFact(
      () => {
        throw new Error('of this test');
      },
      () => {
        const run = runWith({});
        expect(factPlace('ofThisTest', undefined, JUNE).derive(run)).toBeUndefined();
      },
    );
  });

  it('remembers who gave what it was derived from, whatever was read first', () => {
    const run = runWith({
      answers: { 'tyre.date-code': { FL: '2324' }, 'oil.grade': '15W-50' },
      measured: { 'tyre.date-code': { FL: '2323' } },
    });
    const [tyre, oil] = [factPlace('tyreAge', 'FL', JUNE), factPlace('oilGradeHot', undefined, JUNE)];
    tyre.derive(run);
    expect(run.source).toBe('measured');
    run.source = undefined;
    oil.derive(run);
    expect(run.source).toBe('declared');
    tyre.derive(run);
    expect(run.source).toBe('measured');
  });
});
