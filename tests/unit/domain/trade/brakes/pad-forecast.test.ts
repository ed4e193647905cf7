import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { forecastPad, PAD_FORECAST } from '../../../../../src/domain/trade/brakes/pad-forecast.ts';
import {
  currentSet,
  type PadReading,
  padOutlook,
  padWearFromEnergy,
  padWearFromHistory,
} from '../../../../../src/domain/trade/brakes/pad-forecast-wear.ts';
import { faultsOf, runCalculation } from '../run-calculation.ts';

const reading = (sessions: number, thicknessMm: number, padsChanged?: boolean): PadReading => ({
  sessions,
  thicknessMm,
  ...(padsChanged === undefined ? {} : { padsChanged }),
});
const EVEN = [reading(0, 11), reading(4, 9.4), reading(8, 7.8), reading(12, 6.2)];

/** Readings of one set, wearing by random amounts. */
const histories = fc
  .tuple(
    fc.double({ min: 9, max: 20, noNaN: true }),
    fc.array(
      fc.record({ sessions: fc.integer({ min: 1, max: 12 }), wornMm: fc.double({ min: 0, max: 1.2, noNaN: true }) }),
      { minLength: 1, maxLength: 6 },
    ),
  )
  .map(([newMm, intervals]) => {
    const readings = [reading(0, newMm)];
    for (const { sessions, wornMm } of intervals) {
      const last = readings.at(-1) ?? reading(0, newMm);
      readings.push(reading(last.sessions + sessions, last.thicknessMm - wornMm));
    }
    return readings;
  });

describe('wear from readings', () => {
  it('is the slope where the wear is even (arithmetic: 1.6 mm in 4 sessions)', () => {
    const wear = padWearFromHistory(EVEN);
    expect(wear.leastSquares).toBeCloseTo(0.4, 12);
    expect(wear.worstRecent).toBeCloseTo(0.4, 12);
    expect(wear.mmPerSession).toBeCloseTo(0.4, 12);
  });

  it('is the best line by least squares (textbook sums for 0, 1, 2, 3 and 10, 9, 7, 6: slope −1.4)', () => {
    const wear = padWearFromHistory([reading(0, 10), reading(1, 9), reading(2, 7), reading(3, 6)]);
    expect(wear.leastSquares).toBeCloseTo(1.4, 12);
  });

  it('takes the worst recent interval where wear has grown, and forgets one that is long ago', () => {
    const growing = padWearFromHistory([reading(0, 12), reading(5, 11), reading(10, 10), reading(15, 7)]);
    expect(growing).toMatchObject({ method: 'worst-recent' });
    expect(growing.mmPerSession).toBeCloseTo(0.6, 12);
    const longAgo = [reading(0, 14), reading(2, 11), reading(6, 10.6), reading(10, 10.2), reading(14, 9.8)];
    const calmed = padWearFromHistory(longAgo);
    expect(calmed.worstRecent).toBeCloseTo(0.1, 12);
    expect(calmed).toMatchObject({ method: 'least-squares' });
  });

  it('never takes pads for everlasting: what cannot be read is 0.1 mm over all readings', () => {
    expect(padWearFromHistory([reading(0, 8), reading(5, 8)])).toMatchObject({
      mmPerSession: 0.02,
      method: 'resolution',
    });
  });

  it('starts again at a marked change of pads', () => {
    const changed = [reading(0, 6), reading(3, 4), reading(4, 12, true), reading(8, 10.4)];
    expect(currentSet(changed)).toHaveLength(2);
    expect(padWearFromHistory(changed).mmPerSession).toBeCloseTo(0.4, 12);
    expect(() => padWearFromHistory(changed.slice(0, 3))).toThrow(/two readings/u);
  });

  it('refuses pads that grow, sessions that do not count up, and numbers that are none, with their place', () => {
    const pointers = (readings: PadReading[]) =>
      faultsOf(() => padWearFromHistory(readings, '/h')).map((f) => f.pointer);
    expect(pointers([reading(0, 8), reading(3, 8.1)])).toEqual(['/h/1/thicknessMm']);
    expect(pointers([reading(3, 8), reading(3, 7)])).toEqual(['/h/1/sessions']);
    expect(pointers([reading(0, Number.NaN), reading(3, 7)])).toEqual(['/h/0/thicknessMm']);
    expect(pointers([reading(-1, 8), reading(3, 7)])).toEqual(['/h/0/sessions']);
    expect(pointers([])).toEqual(['/h']);
    expect(faultsOf(() => padWearFromHistory([reading(0, 8), reading(3, 8.1)]))[0]?.code).toBe('negative-wear');
  });
});

describe('outlook', () => {
  it('subtracts the sessions to come and counts whole sessions down to the minimum', () => {
    expect(padOutlook(6.2, 0.4, { sessionsToCome: 6, minimumMm: 2 })).toEqual({
      endThicknessMm: expect.closeTo(3.8, 12),
      sessionsLeft: 10,
    });
  });

  it('counts the session that ends exactly on the minimum', () => {
    expect(padOutlook(2.3, 0.1, { sessionsToCome: 0, minimumMm: 2 }).sessionsLeft).toBe(3);
  });

  it('does not go below nothing, and gives no sessions to a pad below the minimum', () => {
    expect(padOutlook(1, 0.5, { sessionsToCome: 10, minimumMm: 2 })).toEqual({ endThicknessMm: 0, sessionsLeft: 0 });
  });

  it('refuses a pad that does not wear', () => {
    expect(faultsOf(() => padOutlook(6, 0, { sessionsToCome: 1, minimumMm: 2 }))[0]?.pointer).toBe('/mmPerSession');
  });
});

describe('a thinner pad', () => {
  const forecast = (readings: readonly PadReading[]) => forecastPad(readings, { sessionsToCome: 5, minimumMm: 2 });

  it('at the last reading does not wear out later, nor end thicker', () => {
    fc.assert(
      fc.property(histories, fc.double({ min: 0, max: 2, noNaN: true }), (readings, thinner) => {
        const last = readings.at(-1) ?? reading(0, 0);
        const worn = [...readings.slice(0, -1), { ...last, thicknessMm: Math.max(last.thicknessMm - thinner, 0) }];
        const [before, after] = [forecast(readings), forecast(worn)];
        expect(after?.sessionsLeft).toBeLessThanOrEqual(before?.sessionsLeft ?? Number.NaN);
        expect(after?.endThicknessMm).toBeLessThanOrEqual((before?.endThicknessMm ?? Number.NaN) + 1e-9);
      }),
    );
  });

  it('from the beginning, with the same wear, does not wear out later either', () => {
    fc.assert(
      fc.property(histories, fc.double({ min: 0, max: 1, noNaN: true }), (readings, thinner) => {
        const thin = readings.map((some) => ({ ...some, thicknessMm: some.thicknessMm - thinner }));
        expect(forecast(thin)?.sessionsLeft).toBeLessThanOrEqual(forecast(readings)?.sessionsLeft ?? Number.NaN);
      }),
    );
  });

  it('ends below the minimum exactly when more sessions come than are left', () => {
    fc.assert(
      fc.property(histories, fc.integer({ min: 0, max: 60 }), (readings, sessionsToCome) => {
        const some = forecastPad(readings, { sessionsToCome, minimumMm: 2 });
        const outlasts = sessionsToCome <= (some?.sessionsLeft ?? Number.NaN);
        if (outlasts) expect(some?.endThicknessMm).toBeGreaterThanOrEqual(2 - 1e-6);
        else expect(some?.endThicknessMm).toBeLessThan(2 + 1e-6);
      }),
    );
  });
});

describe('for facts', () => {
  it('does not know from one reading, nor from readings that contradict each other', () => {
    const plan = { sessionsToCome: 4 };
    expect(forecastPad([reading(0, 8)], plan)).toBeUndefined();
    expect(forecastPad([], plan)).toBeUndefined();
    expect(forecastPad([reading(0, 8), reading(4, 9)], plan)).toBeUndefined();
    expect(forecastPad(EVEN, plan)).toMatchObject({ thicknessMm: 6.2, sessionsLeft: 10 });
  });
});

describe('the computation', () => {
  const body = (pads: object[], more: object = {}) => ({ pads, sessionsToCome: 6, ...more });
  const pad = (position: string, history: readonly PadReading[]) => ({ position, history });

  it('works out its example and gives a line to plot', () => {
    const { result, steps } = runCalculation(PAD_FORECAST, PAD_FORECAST.example);
    const first = result.pads[0];
    expect(first).toMatchObject({ position: 'FL.in', method: 'worst-recent', endThicknessMm: 4.92, sessionsLeft: 13 });
    expect(first?.series.forecast).toEqual([
      { session: 10, thicknessMm: 7.2 },
      { session: 16, thicknessMm: 4.92 },
    ]);
    expect(steps).toHaveLength(3);
  });

  it('is the same counted on or per event', () => {
    const cumulative = runCalculation(PAD_FORECAST, body([pad('RL.out', EVEN)]));
    const perEvent = EVEN.map((some) => ({ ...some, sessions: some.sessions === 0 ? 0 : 4 }));
    const counted = runCalculation(PAD_FORECAST, body([pad('RL.out', perEvent)], { counting: 'per-event' }));
    expect(counted.result).toEqual(cumulative.result);
  });

  it('names the pad that wears out first and what is not enough', () => {
    const { result } = runCalculation(
      PAD_FORECAST,
      body([pad('FL.in', EVEN), pad('FL.out', [reading(0, 9), reading(5, 4)])]),
    );
    expect(result).toMatchObject({ firstToWearOut: 'FL.out', enough: false });
    expect(result.pads.map(({ enough, belowRoadTest }) => [enough, belowRoadTest])).toEqual([
      [true, false],
      [false, true],
    ]);
  });

  it('treats left and right alike', () => {
    const { result } = runCalculation(PAD_FORECAST, body([pad('FL.in', EVEN), pad('FR.in', EVEN)]));
    const [left, right] = result.pads;
    expect({ ...left, position: '' }).toEqual({ ...right, position: '' });
  });

  it('goes by energy where there is one reading, per axle', () => {
    const { result, assumptions } = runCalculation(
      PAD_FORECAST,
      body([pad('FL.in', [reading(0, 9)]), pad('RL.in', [reading(0, 9)])], {
        energyPerSessionMJ: { front: 22, rear: 9 },
      }),
    );
    expect(padWearFromEnergy(22, 0.02)).toBeCloseTo(0.44, 12);
    expect(result.pads.map((some) => [some.method, some.mmPerSession])).toEqual([
      ['energy', 0.44],
      ['energy', 0.18],
    ]);
    expect(assumptions).toContainEqual({
      name: 'wearMmPerMJ',
      value: '0.02 mm/MJ at one wheel',
      standing: 'common-practice',
    });
  });

  it.each<[string, object, string]>([
    ['one reading and no energy', body([pad('FL.in', [reading(0, 9)])]), '/pads/0/history'],
    [
      'energy of the other axle',
      body([pad('FL.in', [reading(0, 9)])], { energyPerSessionMJ: { rear: 9 } }),
      '/pads/0/history',
    ],
    [
      'pads that grow',
      body([pad('FL.in', EVEN), pad('FR.in', [reading(0, 8), reading(3, 9)])]),
      '/pads/1/history/1/thicknessMm',
    ],
    ['a pad given twice', body([pad('FL.in', EVEN), pad('FL.in', EVEN)]), '/pads/1/position'],
    [
      'an event without sessions',
      body([pad('FL.in', [reading(0, 9), reading(0, 8)])], { counting: 'per-event' }),
      '/pads/0/history/1/sessions',
    ],
  ])('refuses %s', (_what, input, pointer) => {
    expect(faultsOf(() => runCalculation(PAD_FORECAST, input)).map((fault) => fault.pointer)).toEqual([pointer]);
  });
});
