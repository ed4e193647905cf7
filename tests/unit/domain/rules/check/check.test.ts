import { describe, expect, it } from 'vitest';
import { checkOverrides, checkRuleSet } from '../../../../../src/domain/rules/check/check.ts';
import { RuleSet } from '../../../../../src/domain/rules/model/rule-set.ts';
import { CAR, EVENT, faultsOf, makeRule, makeRuleSet } from '../rules-support.ts';

const LINES = { items: ['brake.lines'], test: { kind: 'confirm', item: 'brake.lines' } };
const pad = (atLeast: unknown, more: Record<string, unknown> = {}) => ({
  items: ['pad.thickness'],
  test: { kind: 'limit', item: 'pad.thickness', atLeast },
  ...more,
});
const faultsOfRule = (rule: Record<string, unknown>, parameters: Record<string, unknown> = {}): string[] =>
  faultsOf(makeRuleSet({ rules: [makeRule(rule)], parameters }));
const parameter = (value: unknown, unit?: string) => ({
  value,
  meaning: 'What it limits',
  ...(unit !== undefined && { unit }),
});

describe('static check of a rule set', () => {
  it('takes one that is in order and hands it back compiled', () => {
    const raw = makeRuleSet({
      rules: [makeRule(pad({ parameter: 'padMinimum' }))],
      parameters: { padMinimum: parameter(4, 'mm') },
    });
    const checked = checkRuleSet(raw);
    expect(checked.ok && checked.ruleSet).toEqual(raw);
    expect(checked.ok && checked.compiled.ruleSet).toEqual(raw);
  });

  it.each([
    [
      'an unknown item',
      { items: ['brake.lines'], test: { kind: 'confirm', item: 'brake.linez' } },
      '/rules/0/test/item unknown-item',
    ],
    ['an unknown listed item', { ...LINES, items: ['brake.lines', 'brake.linez'] }, '/rules/0/items/1 unknown-item'],
    ['an item read but not listed', { ...LINES, items: ['brake.lights'] }, '/rules/0/items item-not-listed'],
    [
      'an unknown field',
      {
        items: ['exhaust.sound-level'],
        test: { kind: 'limit', item: 'exhaust.sound-level', field: 'loudness', atMost: { value: 98 } },
      },
      '/rules/0/test/field unknown-field',
    ],
    [
      'a missing field',
      { items: ['exhaust.sound-level'], test: { kind: 'limit', item: 'exhaust.sound-level', atMost: { value: 98 } } },
      '/rules/0/test/field unknown-field',
    ],
    ['an unknown parameter', pad({ parameter: 'padMinimun' }), '/rules/0/test/atLeast/parameter unknown-parameter'],
    [
      'an unknown function',
      { items: ['oil.level.reading'], test: { kind: 'expression', expr: 'sqrt(oil.level.reading) > 0.5' } },
      '/rules/0/test/expr unknown-function',
    ],
    [
      'a test of another type',
      { items: ['brake.pedal'], test: { kind: 'confirm', item: 'brake.pedal' } },
      '/rules/0/test/item type-clash',
    ],
    ['a unit that does not convert', pad({ value: 4, unit: 'kPa' }), '/rules/0/test/atLeast/unit unit-clash'],
    ['an unknown unit', pad({ value: 4, unit: 'furlong' }), '/rules/0/test/atLeast/unit unknown-unit'],
    ['a value of the record in another unit', pad({ vehicle: 'massKg' }), '/rules/0/test/atLeast/vehicle unit-clash'],
    [
      'a value the record does not have',
      pad({ vehicle: 'padMinimumMm' }),
      '/rules/0/test/atLeast/vehicle unknown-name',
    ],
    [
      'an unknown option',
      { items: ['brake.pedal'], test: { kind: 'one-of', item: 'brake.pedal', values: ['firm', 'frim'] } },
      '/rules/0/test/values/1 unknown-option',
    ],
    ['each on an item without positions', { ...LINES, each: 'wheel' }, '/rules/0/each each-mismatch'],
    [
      'each that leaves several values',
      pad({ value: 4, unit: 'mm' }, { each: 'wheel' }),
      '/rules/0/each each-mismatch',
    ],
    [
      'each in an expression without such items',
      { ...LINES, each: 'wheel', test: { kind: 'expression', expr: 'brake.lines' } },
      '/rules/0/each each-mismatch',
    ],
    [
      'a spread over one value',
      { items: ['oil.level.reading'], test: { kind: 'spread', item: 'oil.level.reading', atMost: { value: 1 } } },
      '/rules/0/test/item each-mismatch',
    ],
    [
      'an expression that cannot be read',
      { ...LINES, test: { kind: 'expression', expr: 'brake.lines &&' } },
      '/rules/0/test/expr bad-expression',
    ],
    ['a condition that is no yes/no', { ...LINES, when: 'vehicle.massKg' }, '/rules/0/when type-clash'],
    ['a missing basis', { ...LINES, basis: undefined }, '/rules/0/basis missing-basis'],
    ['an unknown key', { ...LINES, severity: 1 }, '/rules/0/severity bad-shape'],
    ['an effect that is none', { ...LINES, effect: 'warn' }, '/rules/0/effect bad-shape'],
    [
      'both limits at once',
      {
        items: ['oil.level.reading'],
        test: { kind: 'limit', item: 'oil.level.reading', atLeast: { value: 0 }, atMost: { value: 1 } },
      },
      '/rules/0/test bad-shape',
    ],
    ['a limit of no form', pad({ minimum: 4 }), '/rules/0/test/atLeast bad-shape'],
    [
      'a confirmation that must be no',
      { ...LINES, test: { kind: 'confirm', item: 'brake.lines', expect: false } },
      '/rules/0/test/expect type-clash',
    ],
  ])('names %s', (_, rule, fault) => {
    expect(faultsOfRule(rule)).toEqual([fault]);
  });

  it.each([
    ['a parameter nobody uses', { spare: parameter(1) }, LINES, '/parameters/spare unused-parameter'],
    [
      'a parameter that the server reads, in a unit that does not convert',
      { wetTreadMinimum: parameter(3, 'kPa') },
      LINES,
      '/parameters/wetTreadMinimum/unit unit-clash',
    ],
    [
      'a parameter that the server reads, of another kind',
      { wetTreadMinimum: { value: 'deep', meaning: 'Wet' } },
      LINES,
      '/parameters/wetTreadMinimum/value type-clash',
    ],
    [
      'a parameter in a unit that does not convert',
      { least: parameter(4, 'kPa') },
      pad({ parameter: 'least' }),
      '/rules/0/test/atLeast/parameter unit-clash',
    ],
    [
      'a parameter without the unit it needs',
      { least: parameter(4) },
      pad({ parameter: 'least' }),
      '/rules/0/test/atLeast/parameter unit-clash',
    ],
    [
      'a parameter that is no number',
      { least: parameter('four') },
      pad({ parameter: 'least' }),
      '/rules/0/test/atLeast/parameter type-clash',
    ],
    [
      'a half month',
      { age: parameter(1.5, 'month') },
      { items: ['oil.changed-on'], test: { kind: 'age', item: 'oil.changed-on', atMost: { parameter: 'age' } } },
      '/rules/0/test/atMost/parameter type-clash',
    ],
    [
      'an age in hours',
      { age: parameter(100, 'h') },
      { items: ['oil.changed-on'], test: { kind: 'age', item: 'oil.changed-on', atMost: { parameter: 'age' } } },
      '/rules/0/test/atMost/parameter unit-clash',
    ],
    [
      'an acceptance list with a misspelling',
      { pedals: parameter(['firm', 'frim']) },
      { items: ['brake.pedal'], test: { kind: 'one-of', item: 'brake.pedal', values: { parameter: 'pedals' } } },
      '/rules/0/test/values/parameter unknown-option',
    ],
  ])('names %s', (_, parameters, rule, fault) => {
    expect(faultsOfRule(rule, parameters)).toEqual([fault]);
  });

  it('names a duplicate id', () => {
    expect(faultsOf(makeRuleSet({ rules: [makeRule(LINES), makeRule(LINES)] }))).toEqual(['/rules/1/id duplicate-id']);
  });

  it('names every fault at once, also beside faults of shape, with the place in the text', () => {
    const rules = [
      makeRule({ ...LINES, id: 'Bad Id' }),
      makeRule({ id: 'a', ...pad({ value: 4, unit: 'kPa' }) }),
      makeRule({
        id: 'b',
        items: ['pad.thickness'],
        each: 'wheel',
        test: { kind: 'expression', expr: 'pad.thickness["in"] >=\n  params.leest' },
      }),
    ];
    const checked = checkRuleSet(makeRuleSet({ rules, parameters: { least: parameter(4, 'm m m') }, extra: true }));
    expect(checked.ok ? [] : checked.faults.map((fault) => `${fault.pointer} ${fault.code}`).toSorted()).toEqual([
      '/extra bad-shape',
      '/parameters/least unused-parameter',
      '/parameters/least/unit unknown-unit',
      '/rules/0/id bad-shape',
      '/rules/1/test/atLeast/unit unit-clash',
      '/rules/2/test/expr unknown-parameter',
    ]);
    const fault = checked.ok ? undefined : checked.faults.find(({ code }) => code === 'unknown-parameter');
    expect(fault).toMatchObject({ detail: 'there is no parameter "leest"', at: { offset: 25, line: 2, column: 3 } });
  });

  it.each([
    [null],
    [[]],
    ['rules'],
    [{}],
    [{ rules: 4, parameters: [], examples: {} }],
    [{ rules: [null, 1], parameters: { x: null } }],
  ])('names the faults of %j and does not throw', (raw) => {
    expect(faultsOf(raw).length).toBeGreaterThan(0);
  });
});

describe('examples', () => {
  const example = (more: Record<string, unknown>) => ({
    name: 'A car',
    vehicle: CAR,
    answers: {},
    event: EVENT,
    expect: 'barred',
    ...more,
  });
  const faults = (more: Record<string, unknown>): string[] =>
    faultsOf(
      makeRuleSet({
        rules: [makeRule({ ...LINES, id: 'lines' }), makeRule({ ...pad({ parameter: 'least' }), id: 'pads' })],
        parameters: { least: parameter(4, 'mm') },
        examples: [example(more)],
      }),
    );
  const thick = {
    'pad.thickness': Object.fromEntries(
      ['FL', 'FR', 'RL', 'RR'].flatMap((wheel) => [
        [`${wheel}.in`, 5],
        [`${wheel}.out`, 5],
      ]),
    ),
  };

  it.each([
    ['that comes out as it says', {}, []],
    ['that names results', { findings: { lines: 'unanswerable', 'pads@FL.in': 'unanswerable' } }, []],
    [
      'that judges some rules only',
      { only: ['lines'], answers: { 'brake.lines': true }, expect: 'clean', findings: { pads: 'absent' } },
      [],
    ],
    [
      'with overrides and measurements',
      {
        answers: { 'brake.lines': true, ...thick },
        measured: { 'pad.thickness': { 'FL.in': 3 } },
        parameters: { least: { value: 3, unit: 'mm' } },
        expect: 'clean',
      },
      [],
    ],
    ['with another verdict', { answers: { 'brake.lines': true, ...thick } }, ['/examples/0/expect example-failed']],
    ['with another result', { findings: { 'pads@FL.in': 'met' } }, ['/examples/0/findings/pads@FL.in example-failed']],
    [
      'with answers that cannot be',
      { answers: { 'brake.linez': true, 'pad.thickness': { 'FL.in': -1 } } },
      ['/examples/0/answers/brake.linez bad-example', '/examples/0/answers/pad.thickness/FL.in bad-example'],
    ],
    [
      'with an unknown rule',
      { only: ['nothing'], findings: { never: 'met' } },
      ['/examples/0/only/0 unknown-rule', '/examples/0/findings/never unknown-rule'],
    ],
    [
      'with an unknown parameter',
      { parameters: { most: { value: 1 } } },
      ['/examples/0/parameters/most unknown-parameter'],
    ],
    [
      'on a day that does not exist',
      { event: { startsOn: '2026-02-30', endsOn: '2026-03-01' } },
      ['/examples/0/event/startsOn bad-shape'],
    ],
    [
      'on an event that ends before it starts',
      { event: { startsOn: '2026-03-02', endsOn: '2026-03-01' } },
      ['/examples/0/event bad-shape'],
    ],
  ])('%s', (_, more, expected) => {
    expect(faults(more)).toEqual(expected);
  });

  it('says why an example failed', () => {
    const raw = makeRuleSet({ rules: [makeRule({ ...LINES, id: 'lines' })], examples: [example({ expect: 'clean' })] });
    const checked = checkRuleSet(raw);
    expect(checked.ok ? '' : checked.faults[0]?.detail).toBe(
      '"A car" must be clean and is barred (lines unanswerable: No answer for "Brake lines and hoses are sound")',
    );
  });
});

describe('overrides', () => {
  const ruleSet = RuleSet.parse(
    makeRuleSet({
      rules: [
        makeRule({ ...pad({ parameter: 'least' }), id: 'pads' }),
        makeRule({
          id: 'pedal',
          items: ['brake.pedal'],
          test: { kind: 'one-of', item: 'brake.pedal', values: { parameter: 'pedals' } },
        }),
        makeRule({
          id: 'oil',
          items: ['oil.changed-on'],
          test: { kind: 'age', item: 'oil.changed-on', atMost: { parameter: 'age' } },
        }),
      ],
      parameters: { least: parameter(4, 'mm'), pedals: parameter(['firm']), age: parameter(12, 'month') },
    }),
  );

  it.each([
    ['another number', { least: { value: 5 } }, []],
    ['another unit of the same dimension', { least: { value: 0.2, unit: 'in' } }, []],
    ['years for months', { age: { value: 1, unit: 'year' } }, []],
    ['an unknown name', { leest: { value: 5 } }, ['/leest unknown-parameter']],
    ['a name of every object', { constructor: { value: 5 } }, ['/constructor unknown-parameter']],
    ['a text for a number', { least: { value: 'five' } }, ['/least/value type-clash']],
    ['a number that is none', { least: { value: Number.NaN } }, ['/least/value type-clash']],
    ['a unit that does not convert', { least: { value: 5, unit: 'kPa' } }, ['/least/unit unit-clash']],
    ['an unknown unit', { least: { value: 5, unit: 'furlong' } }, ['/least/unit unknown-unit']],
    ['a unit on a list', { pedals: { value: ['firm'], unit: 'mm' } }, ['/pedals/unit unit-clash']],
    ['an option there is not', { pedals: { value: ['firm', 'frim'] } }, ['/pedals/value unknown-option']],
    ['half a month', { age: { value: 0.5 } }, ['/age/value type-clash']],
    ['days for months', { age: { value: 30, unit: 'day' } }, ['/age/unit unit-clash']],
    [
      'two faults',
      { least: { value: true }, leest: { value: 1 } },
      ['/least/value type-clash', '/leest unknown-parameter'],
    ],
  ])('with %s', (_, overrides, expected) => {
    expect(checkOverrides(ruleSet, overrides).map((fault) => `${fault.pointer} ${fault.code}`)).toEqual(expected);
  });
});
