import { describe, expect, it } from 'vitest';
import { earliestFor } from '../../../../src/domain/rules/kinds/dates.ts';
import { CAR, judge, judgeOne, makeRule } from './rules-support.ts';

const mm = (value: number) => ({ value, unit: 'mm' });
const padLimit = (limit: Record<string, unknown>, more: Record<string, unknown> = {}) => ({
  items: ['pad.thickness'],
  test: { kind: 'limit', item: 'pad.thickness', ...limit, ...more },
});
const allPads = (value: unknown) =>
  Object.fromEntries(
    ['FL', 'FR', 'RL', 'RR'].flatMap((wheel) => [
      [`${wheel}.in`, value],
      [`${wheel}.out`, value],
    ]),
  );
const padResult = (value: unknown, limit: Record<string, unknown>, more: Record<string, unknown> = {}) =>
  judge([makeRule(padLimit(limit, more))], { 'pad.thickness': allPads(value) }).findings[0];

describe('limit', () => {
  // the inch is 25.4 mm exactly (NIST SP 811 appendix B): 4 mm is 0.15748 in, 3.9 mm 0.15354 in
  it.each([
    [4.0, 'met', 0],
    [3.9, 'not-met', -0.1],
    [{ value: 0.1575, unit: 'in' }, 'met', 0],
    [{ value: 0.1535, unit: 'in' }, 'not-met', -0.1],
  ])('judges %j against at least 4 mm: %s', (value, result, margin) => {
    expect(padResult(value, { atLeast: mm(4) })).toMatchObject({
      result,
      limit: '≥ 4 mm',
      margin: { value: margin, unit: 'mm' },
    });
  });

  it('judges by the limit as it is shown: 0.1575 in is 4 mm in an item kept in tenths', () => {
    expect(padResult(4, { atLeast: { value: 0.1575, unit: 'in' } })).toMatchObject({ result: 'met', limit: '≥ 4 mm' });
  });

  // 2/32 in is 1.5875 mm; a tread item is kept in tenths, so limit and reading are 1.6 mm (our decision)
  it('takes 2/32 in of tread as 1.6 mm, as limit and as reading', () => {
    const zones = ['FL', 'FR', 'RL', 'RR'].flatMap((wheel) =>
      ['inner', 'middle', 'outer'].map((zone) => `${wheel}.${zone}`),
    );
    const tread = (value: unknown, limit: unknown) =>
      judge([makeRule({ items: ['tyre.tread'], test: { kind: 'limit', item: 'tyre.tread', atLeast: limit } })], {
        'tyre.tread': Object.fromEntries(zones.map((zone) => [zone, value])),
      }).findings[0];
    expect(tread({ value: 2, unit: '1/32in' }, mm(1.6))).toMatchObject({
      result: 'met',
      measured: mm(1.6),
      limit: '≥ 1.6 mm',
    });
    expect(tread(1.6, { value: 2, unit: '1/32in' })).toMatchObject({ result: 'met', limit: '≥ 1.6 mm' });
    expect(tread(1.5, { value: 2, unit: '1/32in' })).toMatchObject({ result: 'not-met', margin: mm(-0.1) });
  });

  it.each([
    [{ atMost: mm(4) }, {}, 'met', '≤ 4 mm'],
    [{ atMost: mm(4) }, { strict: true }, 'not-met', '< 4 mm'],
    [{ atLeast: mm(4) }, { strict: true }, 'not-met', '> 4 mm'],
    [{ atLeast: mm(4) }, {}, 'met', '≥ 4 mm'],
  ])('compares 4 mm with %j %j: %s', (limit, more, result, text) => {
    expect(padResult(4, limit, more)).toMatchObject({ result, limit: text });
  });

  it('gives one finding per position, and names the position that has no answer', () => {
    const { verdict, findings } = judge([makeRule(padLimit({ atLeast: mm(4) }))], {
      'pad.thickness': { ...allPads(6), 'RR.out': null },
    });
    expect(findings.map((finding) => finding.position)).toEqual([
      'FL.in',
      'FL.out',
      'FR.in',
      'FR.out',
      'RL.in',
      'RL.out',
      'RR.in',
      'RR.out',
    ]);
    expect(findings[7]).toMatchObject({
      result: 'unanswerable',
      message: 'No answer for "Friction material thickness" at RR.out',
    });
    expect(verdict).toBe('barred');
  });

  it('takes the stamped minimum of each wheel from the vehicle record', () => {
    const rule = makeRule({
      items: ['rotor.thickness'],
      test: { kind: 'limit', item: 'rotor.thickness', atLeast: { vehicle: 'rotorMinimumThicknessMm' } },
    });
    const vehicle = {
      ...CAR,
      rotor: { front: 'iron', rear: 'carbon' } as const,
      rotorMinimumThicknessMm: { FL: 26.4 },
    };
    const { findings } = judge([rule], { 'rotor.thickness': { FL: 26.4, FR: 30 } }, { vehicle });
    expect(findings.map(({ position, result, limit }) => [position, result, limit])).toEqual([
      ['FL', 'met', '≥ 26.4 mm'],
      ['FR', 'unanswerable', undefined],
    ]);
    expect(findings[1]?.message).toBe('The vehicle record has no rotorMinimumThicknessMm.FR');
  });

  it('converts a temperature as a point on the scale: 311 °F is 155 °C (FMVSS 116, DOT 4 wet)', () => {
    const rule = {
      items: ['brake-fluid.wet-boiling-point'],
      test: { kind: 'limit', item: 'brake-fluid.wet-boiling-point', atLeast: { value: 311, unit: '°F' } },
    };
    expect(judgeOne(rule, { 'brake-fluid.wet-boiling-point': 155 })).toMatchObject({
      result: 'met',
      limit: '≥ 155 °C',
    });
    expect(judgeOne(rule, { 'brake-fluid.wet-boiling-point': 154 })).toMatchObject({ result: 'not-met' });
  });
});

describe('range, choice and confirmation', () => {
  const torque = (value: number) =>
    judge(
      [
        makeRule({
          items: ['wheel.torque'],
          test: {
            kind: 'range',
            item: 'wheel.torque',
            from: { value: 100, unit: 'N·m' },
            to: { value: 110, unit: 'N·m' },
          },
        }),
      ],
      {
        'wheel.torque': { FL: value, FR: 100, RL: 100, RR: 100 },
      },
    ).findings[0];

  it.each([
    [99, 'not-met', -1],
    [100, 'met', 0],
    [104, 'met', 4],
    [110, 'met', 0],
    [111, 'not-met', -1],
  ])('judges %d N·m in 100 to 110: %s', (value, result, margin) => {
    expect(torque(value)).toMatchObject({ result, limit: '100 N·m to 110 N·m', margin: { value: margin } });
  });

  it.each([
    ['firm', 'one-of', ['firm'], 'met'],
    ['spongy', 'one-of', ['firm', 'long'], 'not-met'],
    ['spongy', 'none-of', ['sinks'], 'met'],
    ['sinks', 'none-of', ['sinks'], 'not-met'],
  ])('judges %s as %s %j: %s', (pedal, kind, values, result) => {
    expect(
      judgeOne({ items: ['brake.pedal'], test: { kind, item: 'brake.pedal', values } }, { 'brake.pedal': pedal }),
    ).toMatchObject({ result });
  });

  it.each([
    [['vibration'], 'none-of', ['smell-of-fuel'], 'met'],
    [['vibration', 'smell-of-fuel'], 'none-of', ['smell-of-fuel'], 'not-met'],
    [['vibration'], 'one-of', ['vibration', 'wanders'], 'met'],
    [['vibration', 'smell-of-fuel'], 'one-of', ['vibration'], 'not-met'],
    [[], 'none-of', ['smell-of-fuel'], 'met'],
    [[], 'one-of', ['vibration'], 'not-met'],
  ])('judges the choices %j as %s %j: %s', (chosen, kind, values, result) => {
    const rule = { items: ['debrief.symptoms'], test: { kind, item: 'debrief.symptoms', values } };
    expect(judgeOne(rule, { 'debrief.symptoms': chosen })).toMatchObject({ result });
  });

  it('takes an acceptance list from a parameter, and a run group’s own list instead', () => {
    const rule = {
      items: ['helmet.standard'],
      test: { kind: 'one-of', item: 'helmet.standard', values: { parameter: 'helmets' } },
    };
    const declaredParameters = { helmets: { value: ['Snell SA2020'], meaning: 'Accepted helmets' } };
    const answers = { 'helmet.standard': 'Snell SA2015' };
    expect(judgeOne(rule, answers, { declaredParameters })).toMatchObject({
      result: 'not-met',
      limit: 'one of: Snell SA2020',
    });
    const parameters = { helmets: { value: ['Snell SA2020', 'Snell SA2015'] } };
    expect(judgeOne(rule, answers, { declaredParameters, parameters })).toMatchObject({ result: 'met' });
  });

  it.each([
    ['brake.lines', true, undefined, 'met'],
    ['brake.lines', false, undefined, 'not-met'],
    ['oil.level.at-operating-temperature', false, false, 'met'],
    ['oil.level.at-operating-temperature', true, false, 'not-met'],
    ['brake.lines', null, undefined, 'unanswerable'],
  ])('judges %s answered %j, expected %j: %s', (item, answer, expected, result) => {
    const rule = {
      items: [item],
      test: { kind: 'confirm', item, ...(expected !== undefined && { expect: expected }) },
    };
    expect(judgeOne(rule, { [item]: answer })).toMatchObject({ result });
  });
});

describe('dates', () => {
  const flushed = (date: string, atMost: Record<string, unknown>, more: Record<string, unknown> = {}) =>
    judgeOne(
      { items: ['brake-fluid.flushed-on'], test: { kind: 'age', item: 'brake-fluid.flushed-on', atMost, ...more } },
      { 'brake-fluid.flushed-on': date },
    );

  // the event is 28 and 29 November 2026; ages are taken on its last day
  it.each([
    ['2025-11-29', { value: 12, unit: 'month' }, {}, 'met', 0],
    ['2025-11-28', { value: 12, unit: 'month' }, {}, 'not-met', -1],
    ['2025-11-28', { value: 12, unit: 'month' }, { at: 'event-start' }, 'met', 0],
    ['2025-11-29', { value: 1, unit: 'year' }, {}, 'met', 0],
    ['2026-11-19', { value: 10, unit: 'day' }, {}, 'met', 0],
    ['2026-11-18', { value: 10, unit: 'day' }, {}, 'not-met', -1],
    ['2026-11-28', { value: 0, unit: 'day' }, {}, 'not-met', -1],
  ])('judges %s as at most %j old %j: %s', (date, atMost, more, result, margin) => {
    expect(flushed(date, atMost, more)).toMatchObject({ result, margin: { value: margin, unit: 'day' } });
  });

  it('has no answer for a date after the first event day, and says so', () => {
    const finding = flushed('2026-11-29', { value: 12, unit: 'month' });
    expect(finding).toMatchObject({ result: 'unanswerable', counts: 'bar' });
    expect(finding.message).toContain('2026-11-29 is after the first event day, 2026-11-28');
  });

  // months are counted forward from the date and clamped: 28 February and 6 months is 28 August, so that on 31 August
  // 1 March is the earliest date that is 6 months old at most
  it.each([
    ['2026-02-28', 6, 'month', '2025-08-28'],
    ['2026-08-31', 6, 'month', '2026-03-01'],
    ['2026-03-01', 6, 'month', '2025-09-01'],
    ['2024-02-29', 12, 'month', '2023-03-01'],
    ['2026-03-01', 1, 'day', '2026-02-28'],
  ] as const)('finds the earliest date for %s less %d %s: %s', (day, count, unit, earliest) => {
    expect(earliestFor(day, { count, unit })).toBe(earliest);
  });

  const seat = (date: string, more: Record<string, unknown>) =>
    judgeOne(
      {
        items: ['seat.made-on'],
        test: { kind: 'valid-through', item: 'seat.made-on', through: 'event-end', inclusive: true, ...more },
      },
      { 'seat.made-on': date },
    );

  it.each([
    ['2026-11-29', {}, 'met', 0],
    ['2026-11-28', {}, 'not-met', -1],
    ['2026-11-29', { inclusive: false }, 'not-met', 0],
    ['2026-11-30', { inclusive: false }, 'met', 1],
    ['2021-11-29', { addYears: { value: 5 } }, 'met', 0],
    ['2021-11-28', { addYears: { value: 5 } }, 'not-met', -1],
    ['2021-01-15', { addYears: { value: 5 }, endOfYear: true }, 'met', 32],
    ['2026-08-29', { addMonths: { value: 3 } }, 'met', 0],
  ])('judges a label of %s with %j: %s', (date, more, result, margin) => {
    expect(seat(date, more)).toMatchObject({ result, margin: { value: margin, unit: 'day' } });
  });
});

describe('spread and photos', () => {
  const pads = { 'FL.in': 6, 'FL.out': 8, 'FR.in': 6, 'FR.out': 8.1, 'RL.in': 5, 'RL.out': 5, 'RR.in': 9 };

  it('compares the pads within each wheel', () => {
    const rule = makeRule({
      items: ['pad.thickness'],
      each: 'wheel',
      test: { kind: 'spread', item: 'pad.thickness', atMost: mm(2) },
    });
    const { findings } = judge([rule], { 'pad.thickness': pads });
    expect(findings.map(({ position, result, measured }) => [position, result, measured])).toEqual([
      ['FL', 'met', mm(2)],
      ['FR', 'not-met', mm(2.1)],
      ['RL', 'met', mm(0)],
      ['RR', 'unanswerable', undefined],
    ]);
  });

  it('needs every position that applies', () => {
    const rule = { items: ['pad.thickness'], test: { kind: 'spread', item: 'pad.thickness', atMost: mm(4) } };
    expect(judgeOne(rule, { 'pad.thickness': pads })).toMatchObject({ result: 'unanswerable' });
    expect(judgeOne(rule, { 'pad.thickness': { ...pads, 'RR.out': 9 } })).toMatchObject({
      result: 'met',
      margin: mm(0),
    });
  });

  it('counts photos; none is not met', () => {
    const rule = { items: ['brake.lines'], test: { kind: 'photo', item: 'brake.lines', atLeast: 2 } };
    expect(judgeOne(rule, {})).toMatchObject({ result: 'not-met', limit: '≥ 2 photos', margin: { value: -2 } });
    expect(judgeOne(rule, {}, { photos: { 'brake.lines': 2 } })).toMatchObject({ result: 'met' });
  });
});

describe('an expression', () => {
  const ratio = (expr: string, pads: unknown) =>
    judge([makeRule({ items: ['pad.thickness'], test: { kind: 'expression', expr } })], { 'pad.thickness': pads })
      .findings[0];
  const NO_RESULT =
    'The calculation of this rule has no result with these answers: it divides by zero, or the number is too large';

  it.each([
    'pad.thickness["FL.in"] / pad.thickness["FL.out"] > 0.5',
    '(pad.thickness["FL.out"] - pad.thickness["FL.out"]) / pad.thickness["FL.out"] < 0.5',
    'pad.thickness["FL.in"] / pad.thickness["FL.out"] > 0.5 && pad.thickness["FL.in"] > q(1, "mm")',
  ])('that divides by zero says so: %s', (expr) => {
    const pads = { ...allPads(8), 'FL.out': 0 };
    expect(ratio(expr, pads)).toMatchObject({ result: 'unanswerable', counts: 'bar', message: NO_RESULT });
    expect(ratio(expr, allPads(8))?.message).not.toBe(NO_RESULT);
    const { 'FL.out': _gone, ...others } = allPads(8);
    expect(ratio(expr, others)?.message).not.toBe(NO_RESULT);
  });
});
