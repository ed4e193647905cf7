import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { CATALOGUE } from '../../../../src/domain/catalogue/catalogue.ts';
import { POSITION_KEYS } from '../../../../src/domain/catalogue/item.ts';
import { type FixOrder, orderFixes, type ToFix } from '../../../../src/domain/prepare/fix-order.ts';
import { JOB_ORDER, OPEN_MINUTES, OPENINGS, PART_DAYS, workOf } from '../../../../src/domain/prepare/work-table.ts';

const wrong = (item: string, position?: string, counts: ToFix['counts'] = 'bar'): ToFix => ({
  ruleId: `${item}-rule`,
  result: 'not-met',
  counts,
  items: [item],
  position,
});
const missing = (item: string): ToFix => ({ ...wrong(item), result: 'unanswerable' });

const said = ({ steps }: FixOrder<ToFix>): string[] =>
  steps.map(({ opening, axle, wheels, jobs }) =>
    [opening, axle, wheels.join('+'), jobs.map(({ job }) => job).join(', ')].filter((one) => one).join(' '),
  );

describe('the order of what is put right', () => {
  test('a fact of the car that nobody confirmed is read at the line: no work, unless an answer is missing too', () => {
    const facts = [{ path: 'rotorMinimumThicknessMm.FL', why: 'unconfirmed' }];
    const unconfirmed: ToFix = { ...missing('rotor.thickness'), counts: 'inspect', facts };
    expect(orderFixes([unconfirmed])).toMatchObject({ steps: [], minutes: 0, toRead: [unconfirmed] });
    const both = orderFixes([{ ...unconfirmed, counts: 'bar' }]);
    expect([said(both), both.toRead]).toEqual([['answer answer'], []]);
  });

  // the sequence itself: common practice, no source
  test('a wheel comes off once for all that is behind it; bled once afterwards, tightened last', () => {
    const order = orderFixes([
      wrong('brake-fluid.flushed-on'),
      wrong('pad.thickness', 'FL.in'),
      wrong('caliper.boots', 'FR'),
      wrong('wheel-play.twelve-six', 'FL'),
      wrong('helmet.standard'),
      wrong('pad.thickness', 'RR.out'),
      missing('brake.pedal'),
      wrong('coolant.level'),
    ]);
    expect(said(order)).toEqual([
      'answer answer',
      'papers helmet',
      'wheels front FL+FR wheel-bearing, caliper, pads',
      'wheels rear RL+RR pads',
      'bonnet coolant',
      'bleed bleed',
      'torque torque',
    ]);
  });

  test('what is waited for longest is ordered first; nobody waits for what is only advised', () => {
    const { order } = orderFixes([
      wrong('pad.thickness', 'front'),
      wrong('damper.leak', 'RL', 'inspect'),
      wrong('exhaust.secure', undefined, 'advise'),
      wrong('harness.label-date'),
    ]);
    expect(order.map(({ part, days }) => [part, days])).toEqual([
      ['damper', PART_DAYS.damper],
      ['harness', PART_DAYS.harness],
      ['pads', PART_DAYS.pads],
    ]);
  });

  test('brakes that were opened are bled although no finding says so; wheels that stayed on are not touched', () => {
    expect(said(orderFixes([wrong('caliper.seals', 'RL')]))).toEqual([
      'wheels rear RL caliper',
      'bleed bleed',
      'torque torque',
    ]);
    expect(said(orderFixes([wrong('belt.condition')]))).toEqual(['cabin harness']);
  });

  test('what is met, or counts for nothing, is no work', () => {
    const met: ToFix = { ...wrong('pad.thickness', 'FL.in', 'no'), result: 'met' };
    expect(orderFixes([met, wrong('wheel.clean', 'FL', 'no')])).toEqual({
      order: [],
      steps: [],
      toRead: [],
      minutes: 0,
      saves: 0,
    });
  });

  test('every item of the catalogue has its work, every job its place in the order', () => {
    for (const { key } of CATALOGUE) expect(JOB_ORDER).toContain(workOf(key).job);
    const unplanned = new Set(CATALOGUE.flatMap(({ key }) => (workOf(key).job === 'other' ? [key] : [])));
    // records of how the car is set up and used: nothing is mended by them
    expect(unplanned).toEqual(new Set(['car.usage', 'setup.corner-weights', 'setup.alignment', 'setup.ride-height']));
  });
});

/** Minutes that are spent opening and closing when the jobs are done in this sequence. */
function openingMinutes(sequence: readonly string[], minutesOf: (place: string) => number): number {
  return sequence.reduce((sum, place, at) => (place === sequence[at - 1] ? sum : sum + minutesOf(place)), 0);
}

function* permutations<T>(all: readonly T[]): Generator<T[]> {
  if (all.length <= 1) yield [...all];
  for (const [at, one] of all.entries()) {
    for (const rest of permutations(all.toSpliced(at, 1))) yield [one, ...rest];
  }
}

describe('against every possible order', () => {
  const finding = fc
    .record({ item: fc.constantFrom(...CATALOGUE), counts: fc.constantFrom('bar' as const, 'inspect' as const) })
    .chain(({ item, counts }) => {
      const places = item.positions === undefined ? [undefined] : POSITION_KEYS[item.positions];
      return fc.constantFrom<string | undefined>(...places).map((position) => wrong(item.key, position, counts));
    });

  // reference: all sequences of the jobs tried out one by one
  test('none opens and closes for fewer minutes', () => {
    fc.assert(
      fc.property(fc.array(finding, { minLength: 1, maxLength: 4 }), (findings) => {
        const { steps, saves } = orderFixes(findings);
        const placeOf = ({ opening, axle }: (typeof steps)[number]) => `${opening} ${axle ?? ''}`;
        const minutesOf = (place: string): number =>
          OPEN_MINUTES[OPENINGS.find((one) => place.startsWith(`${one} `)) ?? 'answer'];
        const jobs = steps.flatMap((step) => step.jobs.map(() => placeOf(step)));
        fc.pre(jobs.length <= 7);
        const ours = openingMinutes(jobs, minutesOf);
        const least = Math.min(...[...permutations(jobs)].map((one) => openingMinutes(one, minutesOf)));
        expect(ours).toBe(least);
        const alone = jobs.reduce((sum, place) => sum + minutesOf(place), 0);
        expect(saves).toBe(alone - ours);
      }),
      { numRuns: 60 },
    );
  });

  test('every finding has a job, each once at an axle, and its minutes add up', () => {
    fc.assert(
      fc.property(fc.array(finding, { maxLength: 12 }), (findings) => {
        const { steps, minutes } = orderFixes(findings);
        const placed = new Set(steps.flatMap(({ jobs }) => jobs.flatMap((job) => job.findings)));
        expect(placed).toEqual(new Set(findings));
        expect(minutes).toBe(steps.reduce((sum, step) => sum + step.minutes, 0));
        for (const { jobs } of steps) expect(new Set(jobs.map(({ job }) => job)).size).toBe(jobs.length);
      }),
    );
  });
});
