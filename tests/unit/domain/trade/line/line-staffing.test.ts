import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  backlogClearedMinutes,
  fewestForBacklog,
  fewestToClear,
  LINE_STAFFING,
} from '../../../../../src/domain/trade/line/line-staffing.ts';
import {
  erlangB,
  erlangC,
  fewestForWait,
  fewestStable,
  loadOf,
  meanWaiting,
  meanWaitMinutes,
  waitExceeds,
} from '../../../../../src/domain/trade/line/line-staffing-erlang.ts';
import { seededRandom, simulateLine, simulateMorning } from '../line-simulation.ts';
import { faultsOf, runCalculation } from '../run-calculation.ts';

/** Erlang C by its definition, in exact fractions: (Aᶜ/c!)·c/(c−A) over the sum of the terms below plus itself. */
function exactErlangC(servers: number, numerator: bigint, denominator: bigint): number {
  const count = BigInt(servers);
  // every term times denominator^servers · servers!
  let term = denominator ** count;
  for (let factor = 2n; factor <= count; factor += 1n) term *= factor;
  let below = 0n;
  for (let step = 1n; step <= count; step += 1n) {
    below += term;
    term = (term * numerator) / (denominator * step);
  }
  const [waiting, rest] = [term * count * denominator, below * (count * denominator - numerator)];
  return Number((waiting * 10n ** 18n) / (waiting + rest)) / 1e18;
}

const arbLoad = fc.double({ min: 0.01, max: 30, noNaN: true });

describe('Erlang C', () => {
  it('is what the definition gives in exact fractions', () => {
    const arb = fc.tuple(fc.integer({ min: 1, max: 60 }), fc.integer({ min: 1, max: 999 }));
    fc.assert(
      fc.property(arb, ([servers, thousandths]) => {
        const exact = exactErlangC(servers, BigInt(servers * thousandths), 1000n);
        expect(erlangC(servers, (servers * thousandths) / 1000)).toBeCloseTo(exact, 12);
      }),
    );
  });

  it('is the utilisation for one server', () => {
    fc.assert(
      fc.property(fc.double({ min: 0, max: 0.999, noNaN: true }), (load) => {
        expect(erlangC(1, load)).toBeCloseTo(load, 12);
      }),
    );
  });

  it('falls with every server and rises with the load', () => {
    fc.assert(
      fc.property(arbLoad, fc.integer({ min: 0, max: 10 }), (load, more) => {
        const servers = fewestStable(load) + more;
        expect(erlangC(servers + 1, load)).toBeLessThan(erlangC(servers, load));
        expect(erlangC(servers, load * 0.99)).toBeLessThan(erlangC(servers, load));
      }),
    );
  });

  it('stays a probability where factorials overflow', () => {
    const waits = erlangC(2000, 1950);
    expect(waits).toBeGreaterThan(0);
    expect(waits).toBeLessThan(1);
    expect(erlangC(5, 0)).toBe(0);
  });

  it('refuses a load that cannot be kept up with, and says how many can', () => {
    expect(faultsOf(() => erlangC(3, 3))).toMatchObject([{ pointer: '/inspectors', code: 'unstable' }]);
    expect(faultsOf(() => erlangC(3, 4.6))[0]?.detail).toContain('At least 5 are needed');
    expect(faultsOf(() => erlangB(0, 1))).toMatchObject([{ code: 'not-a-count' }]);
    expect(faultsOf(() => erlangB(1.5, 1))).toMatchObject([{ code: 'not-a-count' }]);
    expect(faultsOf(() => erlangB(2, -1))).toMatchObject([{ code: 'negative' }]);
    expect(faultsOf(() => erlangB(2, Number.NaN))).toMatchObject([{ code: 'negative' }]);
  });
});

describe('waits', () => {
  it.each([
    { arrivalsPerHour: 30, serviceMinutes: 8, inspectors: 5 },
    { arrivalsPerHour: 12, serviceMinutes: 4, inspectors: 1 },
    { arrivalsPerHour: 40, serviceMinutes: 10, inspectors: 8 },
  ])('are what a simulation of $inspectors inspectors sees', (line) => {
    const seen = simulateLine(line, 1_200_000, 10, seededRandom(20_260_613));
    // four standard errors of the simulation, from its own batches
    expect(Math.abs(seen.meanWait.mean - meanWaitMinutes(line))).toBeLessThan(4 * seen.meanWait.error);
    expect(Math.abs(seen.waits.mean - erlangC(line.inspectors, loadOf(line)))).toBeLessThan(4 * seen.waits.error);
    expect(Math.abs(seen.waitsLong.mean - waitExceeds(line, 10))).toBeLessThan(4 * seen.waitsLong.error);
    // and the simulation is fine enough to see a formula that is off by an eighth
    expect(seen.meanWait.error).toBeLessThan(0.03 * meanWaitMinutes(line));
  });

  it('keep to Little’s law and to the mean of their distribution', () => {
    const line = { arrivalsPerHour: 30, serviceMinutes: 8, inspectors: 5 };
    expect(meanWaiting(line)).toBeCloseTo(meanWaitMinutes(line) / 2, 12);
    let area = 0;
    for (let minute = 0; minute < 400; minute += 0.01) area += 0.01 * waitExceeds(line, minute + 0.005);
    expect(area).toBeCloseTo(meanWaitMinutes(line), 5);
  });

  it('need the fewest inspectors that keep them, and not one less', () => {
    fc.assert(
      fc.property(arbLoad, fc.integer({ min: 0, max: 30 }), fc.constantFrom(0.05, 0.1, 0.5), (load, minutes, share) => {
        const line = { arrivalsPerHour: load * 7.5, serviceMinutes: 8 };
        const inspectors = fewestForWait(line, minutes, share);
        expect(waitExceeds({ ...line, inspectors }, minutes)).toBeLessThanOrEqual(share);
        const fewer = inspectors - 1;
        if (fewer > loadOf(line)) expect(waitExceeds({ ...line, inspectors: fewer }, minutes)).toBeGreaterThan(share);
      }),
    );
  });

  it('refuse a load beyond every line', () => {
    expect(faultsOf(() => fewestForWait({ arrivalsPerHour: 1e6, serviceMinutes: 60 }, 5, 0.1))).toMatchObject([
      { code: 'too-many' },
    ]);
  });
});

describe('the backlog bound', () => {
  it('is the fewest who are through in time', () => {
    const arbCars = fc.integer({ min: 1, max: 300 });
    fc.assert(
      fc.property(
        arbCars,
        fc.integer({ min: 1, max: 20 }),
        fc.integer({ min: 20, max: 300 }),
        (cars, service, minutes) => {
          const inspectors = fewestForBacklog(cars, service, minutes);
          expect(backlogClearedMinutes(cars, inspectors, service)).toBeLessThanOrEqual(minutes);
          if (inspectors > 1) expect(backlogClearedMinutes(cars, inspectors - 1, service)).toBeGreaterThan(minutes);
        },
      ),
    );
  });

  it('counts whole rounds', () => {
    expect(fewestForBacklog(40, 8, 120)).toBe(3);
    expect(fewestForBacklog(46, 8, 120)).toBe(4);
    expect(fewestForBacklog(3, 0.1, 0.3)).toBe(1);
    expect(fewestForBacklog(0, 8, 4)).toBe(0);
    expect(faultsOf(() => fewestForBacklog(1, 8, 7))).toMatchObject([{ pointer: '/minutesToFirstSession' }]);
    expect(faultsOf(() => backlogClearedMinutes(4, 0, 8))).toMatchObject([{ pointer: '/inspectors' }]);
  });
});

describe('fewestToClear', () => {
  const morning = {
    cars: 40,
    arrivalMinutes: 90,
    waiting: 0,
    minutesToFirstSession: 120,
    serviceMinutes: 8,
    share: 0.9,
  };

  it('lets the last to come in time in at least the share of simulated mornings', () => {
    const inspectors = fewestToClear(morning);
    const inTime = simulateMorning(morning, inspectors, 4000, seededRandom(7));
    expect(inTime).toBeGreaterThanOrEqual(0.9);
  });

  it('asks for no fewer when there are more cars, less time or more to be sure of', () => {
    const arb = fc.record({
      cars: fc.integer({ min: 1, max: 120 }),
      waiting: fc.integer({ min: 0, max: 40 }),
      arrivalMinutes: fc.integer({ min: 20, max: 120 }),
      spare: fc.integer({ min: 10, max: 90 }),
    });
    fc.assert(
      fc.property(arb, ({ spare, ...rest }) => {
        const base = { ...rest, serviceMinutes: 8, share: 0.9, minutesToFirstSession: rest.arrivalMinutes + spare };
        const needed = fewestToClear(base);
        expect(fewestToClear({ ...base, cars: base.cars + 5 })).toBeGreaterThanOrEqual(needed);
        expect(fewestToClear({ ...base, waiting: base.waiting + 5 })).toBeGreaterThanOrEqual(needed);
        expect(fewestToClear({ ...base, share: 0.95 })).toBeGreaterThanOrEqual(needed);
        expect(fewestToClear({ ...base, minutesToFirstSession: base.minutesToFirstSession + 20 })).toBeLessThanOrEqual(
          needed,
        );
      }),
    );
  });

  it('refuses arrivals that nobody could be through with', () => {
    const faults = faultsOf(() => fewestToClear({ ...morning, arrivalMinutes: 115 }));
    expect(faults).toMatchObject([{ pointer: '/arrivalMinutes', code: 'too-late' }]);
    expect(faults[0]?.detail).toContain('after minute 112');
  });
});

describe('the calculation', () => {
  it('works its example', () => {
    const { result } = runCalculation(LINE_STAFFING, LINE_STAFFING.example);
    expect(result).toMatchObject({ inspectors: 5, load: 3.56, arrivalsPerHour: 26.7, enough: true });
    expect(result.needed).toMatchObject({ toKeepUp: 4, forBacklog: 3 });
  });

  it('takes the number needed where none is given', () => {
    const { inspectors: _, ...body } = LINE_STAFFING.example as Record<string, unknown>;
    const { result } = runCalculation(LINE_STAFFING, body);
    expect(result.inspectors).toBe(Math.max(result.needed.toClear, result.needed.forWaitLimit));
    expect(result.enough).toBe(true);
  });

  it('refuses inspectors who cannot keep up, and names the number that would do', () => {
    const body = { cars: 40, arrivalMinutes: 60, minutesToFirstSession: 180, inspectors: 3 };
    const faults = faultsOf(() => runCalculation(LINE_STAFFING, body));
    expect(faults).toMatchObject([{ pointer: '/inspectors', code: 'unstable' }]);
    const named = Number(/(\d+) would do/u.exec(faults[0]?.detail ?? '')?.[1]);
    expect(runCalculation(LINE_STAFFING, { ...body, inspectors: named }).result.enough).toBe(true);
    expect(runCalculation(LINE_STAFFING, { ...body, inspectors: named - 1 }).result.enough).toBe(false);
  });

  it('says when those who keep up are too few all the same', () => {
    const worked = runCalculation(LINE_STAFFING, {
      cars: 40,
      arrivalMinutes: 90,
      minutesToFirstSession: 120,
      inspectors: 4,
    });
    expect(worked.result.enough).toBe(false);
    expect(worked.cautions).toHaveLength(1);
  });

  it('refuses more than any line could take, at the number of cars', () => {
    const body = { cars: 5000, arrivalMinutes: 1, minutesToFirstSession: 300, serviceMinutes: 60 };
    expect(faultsOf(() => runCalculation(LINE_STAFFING, body))).toMatchObject([{ pointer: '/cars', code: 'too-many' }]);
  });

  it('needs one inspector for an empty morning', () => {
    const { result } = runCalculation(LINE_STAFFING, { cars: 0, arrivalMinutes: 60, minutesToFirstSession: 90 });
    expect(result).toMatchObject({ inspectors: 1, meanWaitMinutes: 0, overLimitPercent: 0, enough: true });
  });
});
