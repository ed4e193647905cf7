import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { BRAKE_HEAT } from '../../../../../src/domain/trade/brakes/brake-heat.ts';
import {
  type BrakingVenue,
  brakeDuty,
  brakeNeeds,
  DUTY_CLASSES,
  dutyClassOf,
} from '../../../../../src/domain/trade/brakes/brake-heat-duty.ts';
import { brakeHeatSensitivity } from '../../../../../src/domain/trade/brakes/brake-heat-input.ts';
import { brakeHeatSeries } from '../../../../../src/domain/trade/brakes/brake-heat-result.ts';
import { FIRST_STEPS, solveBrakeHeat } from '../../../../../src/domain/trade/brakes/brake-heat-session.ts';
import { BRAKE_HEAT_DEFAULTS, resolveBrakeHeat } from '../../../../../src/domain/trade/brakes/brake-heat-settings.ts';
import { settings } from '../brake-heat-support.ts';
import { faultsOf, runCalculation } from '../run-calculation.ts';

const ZONES = [
  { name: 'Mill hairpin', fromKmh: 212, toKmh: 74 },
  { name: 'Quarry', fromKmh: 176, toKmh: 98 },
];
const BODY = { brakingZones: ZONES, lapLengthM: 3000, laps: 8, massKg: 1400 };
const compute = (body: object) => runCalculation(BRAKE_HEAT, { ...BODY, ...body });
const faults = (body: object) => faultsOf(() => compute(body));

describe('the computation', () => {
  it('works out its example with every step in numbers', () => {
    const { result, steps, assumptions, cautions } = runCalculation(BRAKE_HEAT, BRAKE_HEAT.example);
    expect(result.front.peakC).toBeGreaterThan(result.rear.peakC);
    expect(result.balanceError).toBeLessThan(1e-3);
    expect(result.convergence.halvingChangeK).toBeLessThan(0.5);
    expect(steps.map((step) => step.formula)).toContain('E = ½·m·(v1² − v2²)');
    expect(assumptions.map(({ name }) => name)).toContain('convection.factor');
    expect(cautions.join(' ')).toMatch(/not listed as a zone/u);
  });

  it('adds up: kinetic energy is drag, rolling and brakes; heat in is kept, given to the air and radiated', () => {
    const { lap, front, rear } = compute({}).result;
    expect(lap.dragMJ + lap.rollingMJ + lap.brakeMJ).toBeCloseTo(lap.kineticMJ, 2);
    for (const { heatMJ } of [front, rear]) {
      expect(heatMJ.kept + heatMJ.convected + heatMJ.radiated).toBeCloseTo(heatMJ.in, 2);
    }
  });

  it('gives the same for miles, pounds and Fahrenheit', () => {
    const metric = compute({ ambientC: 25, massKg: 1360.77711 }).result;
    const other = compute({
      brakingZones: ZONES.map(({ name, fromKmh, toKmh }) => ({
        name,
        fromKmh: { value: fromKmh / 1.609344, unit: 'mph' },
        toKmh: { value: toKmh / 1.609344, unit: 'mph' },
      })),
      massKg: { value: 3000, unit: 'lb' },
      ambientC: { value: 77, unit: '°F' },
    }).result;
    expect(other.duty).toEqual(metric.duty);
    expect(other.series.frontC.at(-1)).toBeCloseTo(metric.series.frontC.at(-1) ?? Number.NaN, 1);
  });

  it('takes what is given and assumes no more of it', () => {
    const given = { decelerationG: 1, dragAreaM2: 0.6, frontShare: 0.66, ambientC: 20, startC: 60 };
    const { result, assumptions } = compute({ ...given, front: { massKg: 9, emissivity: 0.7 } });
    const names = assumptions.map(({ name }) => name);
    expect(result.frontShare).toBe(0.66);
    for (const name of [
      ...Object.keys(given),
      'wheelbaseMm',
      'cgHeightMm',
      'front.massKg',
      'front.emissivity',
      'laps',
    ]) {
      expect(names).not.toContain(name);
    }
    expect(names).toContain('rear.massKg');
  });

  it('labels what is from memory and what is common practice', () => {
    const standing = new Map(compute({}).assumptions.map((assumption) => [assumption.name, assumption.standing]));
    expect(standing.get('convection.factor')).toBe('from-memory');
    expect(standing.get('rollingCoefficient')).toBe('from-memory');
    expect(standing.get('front.specificHeat')).toBe('secondary');
    expect(standing.get('margins.fluidMarginK')).toBe('common-practice');
    expect(standing.get('airDensityKgM3')).toBe('derived');
  });

  it('fills a session of 20 minutes with laps where they are not given', () => {
    const { result } = compute({ laps: undefined, lapTimeS: 100, lapLengthM: undefined });
    expect(result.laps).toBe(12);
  });

  it('uses carbon where it is fitted: lighter, with a specific heat that rises more', () => {
    const { settings: car } = resolveBrakeHeat({ ...BODY, front: { material: 'carbon' } });
    expect(car.front.massKg).toBeLessThan(resolveBrakeHeat(BODY).settings.front.massKg);
    expect(car.front.heat).toBe(BRAKE_HEAT_DEFAULTS.rotor.carbon.heat);
    const severe = { brakingZones: [...ZONES, ...ZONES, ...ZONES] };
    const iron = compute(severe);
    const carbon = compute({ ...severe, front: { material: 'carbon' }, rear: { material: 'carbon' } });
    expect(iron.cautions.join(' ')).toMatch(/iron softens/u);
    expect(carbon.cautions.join(' ')).not.toMatch(/iron softens/u);
  });

  it('gives rises that are below the adiabatic bound once the rotor is hot', () => {
    for (const stop of compute({}).result.stops) {
      expect(stop.lastLapRiseK.front).toBeGreaterThan(0);
      expect(stop.lastLapRiseK.front).toBeLessThan(stop.adiabaticRiseK.front);
    }
  });
});

describe('refusals name the place', () => {
  it.each<[string, object, string]>([
    ['a zone that does not slow down', { brakingZones: [{ fromKmh: 90, toKmh: 90 }] }, '/brakingZones/0/fromKmh'],
    ['neither lap time nor length', { lapLengthM: undefined }, '/lapTimeS'],
    ['a lap shorter in time than its stops', { lapTimeS: 6 }, '/lapTimeS'],
    ['a lap shorter in length than its stops', { lapLengthM: 200 }, '/lapLengthM'],
    ['a lap time that asks for more than 2 g between the stops', { lapTimeS: 9, lapLengthM: undefined }, '/lapTimeS'],
    ['a lap length that does', { lapLengthM: 330 }, '/lapLengthM'],
    ['a mean speed above every speed', { lapTimeS: 40, lapLengthM: 3000 }, '/lapTimeS'],
    ['a car that would stand on its nose', { decelerationG: 3, cgHeightMm: 900 }, '/cgHeightMm'],
    ['drag alone that slows the car harder', { decelerationG: 0.1, dragAreaM2: 2 }, '/decelerationG'],
    [
      'deceleration given twice',
      { decelerationG: 0.9, measuredStop: { fromKmh: 100, distanceM: 45 } },
      '/decelerationG',
    ],
    [
      'a specific heat out of order',
      {
        front: {
          specificHeat: [
            { atC: 200, jPerKgK: 500 },
            { atC: 100, jPerKgK: 480 },
          ],
        },
      },
      '/front/specificHeat/1/atC',
    ],
    ['classes out of order', { dutyThresholds: { medium: 60 } }, '/dutyThresholds'],
  ])('%s', (_what, body, pointer) => {
    expect(faults(body).map((fault) => fault.pointer)).toEqual([pointer]);
  });

  it('every zone that cannot be, not only the first', () => {
    const zones = [ZONES[0], { fromKmh: 60, toKmh: 90 }, { fromKmh: 50, toKmh: 70 }];
    expect(faults({ brakingZones: zones }).map((fault) => fault.pointer)).toEqual([
      '/brakingZones/1/fromKmh',
      '/brakingZones/2/fromKmh',
    ]);
  });

  it.each<[string, object]>([
    ['an unknown key', { tyres: 4 }],
    ['no zones', { brakingZones: [] }],
    ['a mass in a unit of length', { massKg: { value: 1400, unit: 'mm' } }],
    ['a share above the whole', { frontShare: 1.2 }],
    ['half a lap', { laps: 2.5 }],
    ['a mass that is not a number', { massKg: Number.NaN }],
  ])('%s does not parse', (_what, body) => {
    expect(BRAKE_HEAT.input.safeParse({ ...BODY, ...body }).success).toBe(false);
  });
});

describe('sensitivity', () => {
  const rows = brakeHeatSensitivity(settings({ laps: 6 }), FIRST_STEPS);
  const of = (name: string) => rows.find((row) => row.name === name);

  it('moves the peak the way that physics does', () => {
    expect(of('massKg')?.higher?.front).toBeGreaterThan(0);
    expect(of('front.areaM2')?.higher?.front).toBeLessThan(0);
    expect(of('front.areaM2')?.lower?.front).toBeGreaterThan(0);
    expect(of('front.areaM2')?.higher?.rear).toBe(0);
    expect(of('ambientC')).toMatchObject({ change: '±10 K' });
    expect(of('lapTimeS')?.lower?.rear).toBeGreaterThan(0);
  });

  it('is the difference of two sessions', () => {
    const base = solveBrakeHeat(settings({ laps: 6 }));
    const heavier = solveBrakeHeat(settings({ laps: 6, massKg: 1540 }));
    expect(of('massKg')?.higher?.front).toBeCloseTo(heavier.front.peakC - base.front.peakC, 6);
  });

  it('covers every number the session depends on, and only those', () => {
    expect(of('wheelbaseMm')).toBeDefined();
    expect(of('frontShare')).toBeUndefined();
    expect(of('lapLengthM')).toBeUndefined();
    const given = brakeHeatSensitivity(settings({ laps: 2, frontShare: 0.95 }), FIRST_STEPS).map((row) => row.name);
    expect(given).toContain('frontShare');
    expect(given).not.toContain('wheelbaseMm');
  });

  it('covers every assumption that is a number', () => {
    const { result, assumptions } = compute({});
    const simplifications = new Set([
      'laps',
      'lap',
      'rotor',
      'driveline',
      'frontShare',
      'front.material',
      'rear.material',
    ]);
    const rated = /^(?:margins|dutyThresholds)\./u;
    const names = new Set(result.sensitivity.map(({ name }) => name));
    for (const { name } of assumptions) {
      if (!simplifications.has(name) && !rated.test(name)) expect(names).toContain(name);
    }
    expect(result.sensitivity.find(({ name }) => name === 'massKg')?.assumed).toBe(false);
    expect(result.sensitivity.find(({ name }) => name === 'cgHeightMm')?.assumed).toBe(true);
  });

  it('leaves out the side that cannot be', () => {
    const tall = brakeHeatSensitivity(settings({ laps: 1, cgHeightMm: 1300 }), FIRST_STEPS);
    const height = tall.find((row) => row.name === 'cgHeightMm');
    expect(height?.higher).toBeUndefined();
    expect(height?.lower).toBeDefined();
  });
});

describe('the series for a plot', () => {
  it('has columns of one length, rising time, every lap and the peak', () => {
    const session = solveBrakeHeat(settings());
    const { timeS, lap, frontC, rearC } = brakeHeatSeries(session);
    expect([lap.length, frontC.length, rearC.length]).toEqual([timeS.length, timeS.length, timeS.length]);
    expect(timeS.every((time, i) => i === 0 || time > (timeS[i - 1] ?? 0))).toBe(true);
    expect(new Set(lap)).toEqual(new Set(Array.from({ length: 20 }, (_, i) => i + 1)));
    expect(Math.max(...frontC)).toBe(session.front.peakC);
    expect(timeS.at(-1)).toBeCloseTo(20 * 110, 6);
  });

  it('stays short for a long session, and keeps the ends of the stops', () => {
    const session = solveBrakeHeat(settings({ laps: 60, lapTimeS: 300 }));
    const { timeS, frontC } = brakeHeatSeries(session);
    expect(timeS.length).toBe(60 * 10 + 1);
    expect(Math.max(...frontC)).toBeCloseTo(session.front.peakC, 0);
  });
});

describe('duty class and needs', () => {
  it('begins each class at its threshold', () => {
    expect([0, 19.99, 20, 34.99, 35, 49.99, 50, 500].map((watts) => dutyClassOf(watts))).toEqual([
      'light',
      'light',
      'medium',
      'medium',
      'heavy',
      'heavy',
      'severe',
      'severe',
    ]);
    expect(dutyClassOf(30, { medium: 10, heavy: 20, severe: 30 })).toBe('severe');
  });

  it('asks for fluid by the hotter axle, with its margin, and for pads by their own', () => {
    const margins = { fluidRiseShare: 0.25, fluidMarginK: 15, padMarginK: 40 };
    expect(brakeNeeds({ front: 430, rear: 330 }, 30, margins)).toEqual({
      fluidWetBoilingPointNeededC: 30 + 0.25 * 400 + 15,
      padHighTemperatureNeededC: { front: 470, rear: 370 },
    });
  });
});

describe('brakeDuty, for facts', () => {
  const venue = { brakingZones: ZONES, lapLengthM: 3000, designAirTemperatureC: 28 };

  it('says the same as the computation for the same car', () => {
    const duty = brakeDuty(venue, { massKg: 1400 });
    const { result } = compute({ laps: undefined, ambientC: 28 });
    expect(duty?.dutyClass).toBe(result.duty.dutyClass);
    expect(duty?.energyPerLapMJ).toBeCloseTo(result.duty.energyPerLapMJ, 2);
    expect(Math.abs((duty?.estimatedPeakC.front ?? 0) - result.duty.estimatedPeakC.front)).toBeLessThan(1);
  });

  it('does not know without mass, without zones, or from records that cannot be', () => {
    expect(brakeDuty(venue, {})).toBeUndefined();
    expect(brakeDuty({ ...venue, brakingZones: [] }, { massKg: 1400 })).toBeUndefined();
    expect(brakeDuty({ ...venue, lapLengthM: 50 }, { massKg: 1400 })).toBeUndefined();
    expect(brakeDuty({ brakingZones: [{ fromKmh: 80, toKmh: 120 }] }, { massKg: 1400 })).toBeUndefined();
    expect(brakeDuty(venue, { massKg: 1 })).toBeUndefined();
  });

  it('uses axle loads, rotor material and stamped weight where the record has them', () => {
    const base = brakeDuty(venue, { massKg: 1400 });
    const nose = brakeDuty(venue, { massKg: 1400, axleLoadKg: { front: 900, rear: 500 } });
    expect(nose?.estimatedPeakC.front).toBeGreaterThan(base?.estimatedPeakC.front ?? Number.NaN);
    const carbon = { massKg: 1400, rotor: { front: 'carbon' as const } };
    const light = brakeDuty(venue, { ...carbon, rotorMinimumWeightG: { FL: 3000, FR: 2000 } });
    const heavy = brakeDuty(venue, { ...carbon, rotorMinimumWeightG: { FL: 6000, FR: 6000 } });
    expect(light?.estimatedPeakC.front).toBeGreaterThan(heavy?.estimatedPeakC.front ?? Number.NaN);
  });

  it('asks for no less at a harder venue: one zone more on the same lap', () => {
    const harder = { ...venue, brakingZones: [...ZONES, { fromKmh: 190, toKmh: 80 }] };
    const easy = brakeDuty(venue, { massKg: 1400 });
    const hard = brakeDuty(harder, { massKg: 1400 });
    expect(hard?.energyPerLapMJ).toBeGreaterThan(easy?.energyPerLapMJ ?? Number.NaN);
    expect(hard?.fluidWetBoilingPointNeededC).toBeGreaterThan(easy?.fluidWetBoilingPointNeededC ?? Number.NaN);
    expect(DUTY_CLASSES.indexOf(hard?.dutyClass ?? 'light')).toBeGreaterThanOrEqual(
      DUTY_CLASSES.indexOf(easy?.dutyClass ?? 'severe'),
    );
  });

  it('never throws and never gives what is not a number, whatever a venue and a record hold', () => {
    const speed = fc.double({ min: 0, max: 500, noNaN: true });
    const venues: fc.Arbitrary<BrakingVenue> = fc.record({
      brakingZones: fc.array(fc.record({ fromKmh: speed, toKmh: speed }), { maxLength: 12 }),
      lapLengthM: fc.option(fc.double({ min: 1, max: 100_000, noNaN: true }), { nil: undefined }),
      designAirTemperatureC: fc.option(fc.double({ min: -40, max: 60, noNaN: true }), { nil: undefined }),
    });
    fc.assert(
      fc.property(venues, fc.double({ min: 0.1, max: 5000, noNaN: true }), (anyVenue, massKg) => {
        const duty = brakeDuty(anyVenue, { massKg });
        if (duty === undefined) return;
        const { front, rear } = duty.estimatedPeakC;
        expect(DUTY_CLASSES).toContain(duty.dutyClass);
        for (const value of [front, rear, duty.energyPerLapMJ, duty.fluidWetBoilingPointNeededC]) {
          expect(Number.isFinite(value)).toBe(true);
        }
      }),
      { numRuns: 200 },
    );
  });
});
