import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { type SeenPoint, uncheckedFindings, withSeenPoints } from '../../../../src/domain/line/line-judgement.ts';
import { type Finding, type Judgement, verdictOf } from '../../../../src/domain/rules/model/finding.ts';

const finding = (change: Partial<Finding> = {}): Finding => ({
  ruleId: 'pads',
  title: 'Pads',
  result: 'met',
  effect: 'bar',
  counts: 'no',
  items: ['pad.thickness'],
  basis: { kind: 'common-practice' },
  message: '',
  fix: '',
  ...change,
});
const judged = (...findings: Finding[]): Judgement => ({ findings, verdict: verdictOf(findings) });
const toInspect = (change: Partial<Finding> = {}) =>
  finding({ effect: 'inspect', result: 'not-met', counts: 'inspect', ...change });

describe('what the inspector saw', () => {
  test('not ok makes a rule that was met not met, and says so to the entrant', () => {
    const seen: SeenPoint[] = [{ item: 'pad.thickness', position: 'FL', result: 'not-ok' }];
    const { verdict, findings } = withSeenPoints(
      judged(finding({ position: 'FL.in' }), finding({ position: 'RR.in' })),
      seen,
    );
    expect(verdict).toBe('barred');
    expect(findings[0]).toMatchObject({ result: 'not-met', counts: 'bar', source: 'measured' });
    expect(findings[0]?.message).not.toBe('');
    expect(findings[0]?.fix).not.toBe('');
    expect(findings[1]).toMatchObject({ result: 'met', counts: 'no' });
  });

  test.each([
    ['inspect', 'to-inspect'],
    ['advise', 'clean'],
  ] as const)('not ok at a rule that only asks to %s gives %s', (effect, verdict) => {
    const seen: SeenPoint[] = [{ item: 'pad.thickness', result: 'not-ok' }];
    expect(withSeenPoints(judged(finding({ effect })), seen).verdict).toBe(verdict);
  });

  test('ok does not outweigh a value that is out of limits', () => {
    const before = judged(finding({ result: 'not-met', counts: 'bar' }));
    expect(withSeenPoints(before, [{ item: 'pad.thickness', result: 'ok' }])).toEqual(before);
  });

  test('a rule that a concession covers does not bar, however bad it looks', () => {
    const conceded = { concessionId: 'c', expiresAt: '2026-06-13T12:00:00.000Z' };
    const before = judged(finding({ result: 'not-met', counts: 'inspect', conceded }));
    expect(withSeenPoints(before, [{ item: 'pad.thickness', result: 'not-ok' }]).verdict).toBe('to-inspect');
  });

  test('a concession covers its rule also where it was met before the inspector looked, and no other rule', () => {
    const granted = [{ concessionId: 'c', ruleId: 'pads', expiresAt: '2026-06-13T12:00:00.000Z' }];
    const before = judged(finding({ position: 'FL' }), finding({ ruleId: 'backing-plate', position: 'FL' }));
    const seen: SeenPoint[] = [{ item: 'pad.thickness', position: 'FL', result: 'not-ok' }];
    const { findings } = withSeenPoints(before, seen, granted);
    expect(findings[0]).toMatchObject({
      result: 'not-met',
      counts: 'inspect',
      conceded: { concessionId: 'c', expiresAt: '2026-06-13T12:00:00.000Z' },
    });
    expect(findings[1]).toMatchObject({ result: 'not-met', counts: 'bar' });
  });

  test('a point of another item changes nothing', () => {
    const before = judged(finding());
    expect(withSeenPoints(before, [{ item: 'brake.pedal', result: 'not-ok' }])).toEqual(before);
  });
});

describe('what nobody looked at', () => {
  test.each([
    ['the item at its position', toInspect({ position: 'FL' }), { item: 'pad.thickness', position: 'FL' }, 0],
    ['the whole item', toInspect({ position: 'FL' }), { item: 'pad.thickness' }, 0],
    ['the wheel for the pad at it', toInspect({ position: 'FL.in' }), { item: 'pad.thickness', position: 'FL' }, 0],
    ['a wheel, where the whole car is asked for', toInspect(), { item: 'pad.thickness', position: 'RR' }, 0],
    ['another wheel', toInspect({ position: 'FL' }), { item: 'pad.thickness', position: 'FR' }, 1],
    [
      'a position that only begins the same',
      toInspect({ position: 'front' }),
      { item: 'pad.thickness', position: 'front-upper-arm' },
      1,
    ],
    ['another item', toInspect(), { item: 'brake.pedal' }, 1],
    ['one of two items of a rule', toInspect({ items: ['a', 'b'] }), { item: 'b' }, 0],
  ])('a check of %s', (_what, open, check, left) => {
    expect(uncheckedFindings([open], [check], () => undefined)).toHaveLength(left);
  });

  test('only findings that ask for a look need one', () => {
    const findings = [
      finding(),
      finding({ result: 'not-met', counts: 'bar' }),
      finding({ effect: 'advise', result: 'not-met', counts: 'advise' }),
    ];
    expect(uncheckedFindings(findings, [], () => undefined)).toEqual([]);
  });
});

describe('for any judgement', () => {
  const position = fc.option(fc.constantFrom('FL', 'FL.in', 'FL.out', 'RR'), { nil: undefined });
  const item = fc.constantFrom('a', 'b', 'c');
  const arbFinding = fc
    .tuple(fc.constantFrom('bar', 'inspect', 'advise'), fc.constantFrom('met', 'not-met'), item, position)
    .map(([effect, result, one, where]) =>
      finding({
        effect,
        result,
        counts: result === 'met' ? 'no' : effect,
        items: [one],
        ...(where === undefined ? {} : { position: where }),
      }),
    );
  const arbPoint = fc.record({ item, position, result: fc.constantFrom('ok', 'not-ok') }) as fc.Arbitrary<SeenPoint>;

  test('looking never makes a verdict better, keeps every finding, and does not depend on the order of the checks', () => {
    const rank = { clean: 0, 'to-inspect': 1, barred: 2 };
    fc.assert(
      fc.property(fc.array(arbFinding), fc.array(arbPoint, { maxLength: 4 }), (findings, seen) => {
        const before = judged(...findings);
        const after = withSeenPoints(before, seen);
        expect(rank[after.verdict]).toBeGreaterThanOrEqual(rank[before.verdict]);
        expect(after.findings.map((one) => one.ruleId)).toEqual(findings.map((one) => one.ruleId));
        expect(withSeenPoints(before, [...seen].reverse())).toEqual(after);
      }),
    );
  });
});

describe('a finding that rests on a number of the car which nobody confirmed', () => {
  const finding = (path: string) =>
    ({
      ruleId: 'rotor',
      position: path.split('.')[1],
      result: 'unanswerable',
      counts: 'inspect',
      items: ['rotor.thickness'],
      facts: [{ path, why: 'unconfirmed' }],
    }) as unknown as Finding;
  const at = (position: string, measured: boolean) => ({ item: 'car.rotorMinimumThicknessMm', position, measured });
  const shown =
    (...positions: string[]) =>
    () => ({ positions, isNumber: true, isReadOff: false });
  const isOpen = (checks: ReturnType<typeof at>[], values: ReturnType<typeof shown>, path = 'FL') =>
    uncheckedFindings([finding(`rotorMinimumThicknessMm.${path}`)], checks, values).length > 0;

  test('is cleared by the number, never by a tick or by measuring the part', () => {
    expect(isOpen([at('FL', true)], shown('FL', 'FR'))).toBe(false);
    expect(isOpen([at('FL', false)], shown('FL', 'FR'))).toBe(true);
    expect(isOpen([{ ...at('FL', true), item: 'rotor.thickness' }], shown('FL', 'FR'))).toBe(true);
  });

  test('is cleared by the other wheel only where that one stands for both', () => {
    expect(isOpen([at('FL', true)], shown('FL'), 'FR')).toBe(false);
    expect(isOpen([at('FL', true)], shown('FL', 'FR'), 'FR')).toBe(true);
  });
});

describe('a finding that lacks the mark on a part', () => {
  const missing = (path: string, change: Partial<Finding> = {}) =>
    finding({
      position: 'FL',
      result: 'unanswerable',
      counts: 'inspect',
      items: ['rotor.thickness'],
      clearedBy: 'measure',
      facts: [{ path, why: 'missing' }],
      ...change,
    });
  const values = () => ({ positions: ['FL'], isNumber: true, isReadOff: false });
  const measured = [{ item: 'rotor.thickness', position: 'FL', measured: true }];

  test('is not cleared by measuring the part: with the mark it is judged anew', () => {
    for (const path of ['rotorMinimumThicknessMm.FL', 'rotorMinimumWeightG.FL', 'drumMaximumDiameterMm.FL'])
      expect(uncheckedFindings([missing(path)], measured, values), path).toHaveLength(1);
    // brought by the entrant, and no mark on the part
    expect(uncheckedFindings([missing('wheelNutTorqueNm')], measured, values)).toEqual([]);
  });

  test('is cleared like any other where somebody granted an exception', () => {
    const conceded = { concessionId: 'c', expiresAt: '2026-06-13T12:00:00.000Z' };
    const one = missing('rotorMinimumThicknessMm.FL', { conceded, clearedBy: 'look' });
    expect(uncheckedFindings([one], measured, values)).toEqual([]);
  });
});
