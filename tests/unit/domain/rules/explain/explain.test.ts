import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { BUILT_IN_RULE_SET } from '../../../../../seed/built-in.ts';
import { checkRuleSet } from '../../../../../src/domain/rules/check/check.ts';
import { compileRuleSet, evaluate } from '../../../../../src/domain/rules/judge/evaluate.ts';
import { explainRule } from '../../../../../src/domain/rules/explain/explain.ts';
import type { JudgeInput } from '../../../../../src/domain/rules/judge/run.ts';
import { NO_CHANGES, type Origins } from '../../../../../src/domain/rules/overlay/overlay.ts';
import { RuleSet } from '../../../../../src/domain/rules/model/rule-set.ts';
import { answersOf, CAR, inputOf, makeRule, makeRuleSet } from '../rules-support.ts';

const PARAMETERS = {
  padMinimum: { value: 4, unit: 'mm', meaning: 'Least friction material', source: 'common practice, no source' },
  fluidAge: { value: 12, unit: 'month', meaning: 'Oldest brake fluid' },
  fluids: { value: ['DOT 4', 'DOT 5.1'], meaning: 'Fluids accepted' },
  strictBrakes: { value: true, meaning: 'Whether brakes are judged strictly' },
};

interface Case {
  answers?: Record<string, unknown>;
  measured?: Record<string, unknown>;
  input?: Partial<JudgeInput>;
  origins?: Origins;
}

/** Checks a rule with the parameters it uses, judges, and explains what came out. */
function explain(
  rule: Record<string, unknown>,
  { answers = {}, measured, input = {}, origins = NO_CHANGES }: Case = {},
) {
  const written = JSON.stringify(rule);
  const used = Object.entries(PARAMETERS).filter(([name]) => written.includes(name));
  const checked = checkRuleSet(makeRuleSet({ rules: [makeRule(rule)], parameters: Object.fromEntries(used) }));
  if (!checked.ok) throw new Error(JSON.stringify(checked.faults));
  const judgeInput = inputOf({
    answers: answersOf(answers),
    ...(measured !== undefined && { measured: answersOf(measured) }),
    ...input,
  });
  const { findings } = evaluate(checked.compiled, judgeInput);
  const sent = { declared: answers, measured };
  const what = { compiled: checked.compiled, origins, input: judgeInput, sent, findings, judged: findings };
  const explained = explainRule('rule-under-test', what);
  if (explained === undefined) throw new Error('no such rule');
  return explained;
}

const only = (explained: ReturnType<typeof explain>, position?: string) => {
  const found = explained.positions.find((one) => one.position === position);
  if (found === undefined) throw new Error(`nothing at ${position}`);
  return found;
};

const PADS = {
  title: 'Brake pad friction material',
  items: ['pad.thickness'],
  test: { kind: 'limit', item: 'pad.thickness', atLeast: { parameter: 'padMinimum' } },
  message: 'The pad is too thin.',
  fix: 'Fit new pads.',
};
const on = (item: string, test: Record<string, unknown>) => ({ items: [item], test: { item, ...test } });
const says = (expr: string, items: string[], more: Record<string, unknown> = {}) => ({
  items,
  test: { kind: 'expression', expr },
  ...more,
});

describe('a limit', () => {
  test('is told in words and numbers at each position, from what was sent to what it counts', () => {
    const told = explain(PADS, { answers: { 'pad.thickness': { 'FL.in': { value: 3.5, unit: 'mm' }, 'FR.in': 8 } } });
    expect(told.text).toBe('"Friction material thickness" must be at least 4 mm at each position.');
    expect(told.positions).toHaveLength(8);
    const thin = only(told, 'FL.in');
    expect(thin.comparison).toEqual({ text: '3.5 mm ≥ 4 mm is not so, short by 0.5 mm', holds: false });
    expect(thin.inWords).toBe(
      'Friction material thickness at FL.in: you declared 3.5 mm; asked for is at least 4 mm. The pad is too thin. The car may not go on track like this. Fit new pads.',
    );
    expect(thin.countsBecause).toBe('The rule bars: the car may not go on track until it is met.');
    const thick = only(told, 'FR.in');
    expect(thick.comparison).toEqual({ text: '8 mm ≥ 4 mm is so, with 4 mm to spare', holds: true });
    expect(thick.inWords).toMatch(/asked for is at least 4 mm\. That is as it must be\.$/u);
    const open = only(told, 'RR.out');
    expect(open.comparison.holds).toBeNull();
    expect(open.inputs[0]).toEqual({ item: 'pad.thickness', label: 'Friction material thickness', position: 'RR.out' });
    expect(open.countsBecause).toContain('What is not known counts like not met.');
    expect(open.inWords).toContain('Give what is missing and submit the declaration again.');
  });

  // NIST SP 811 (2008), appendix B.8: 1 in = 25.4 mm exactly, so 6/32 in = 4.7625 mm, kept with one decimal.
  test('shows a value as sent and as converted', () => {
    const told = explain(PADS, { answers: { 'pad.thickness': { 'FL.in': { value: 6, unit: '1/32in' } } } });
    expect(only(told, 'FL.in').inputs).toEqual([
      {
        item: 'pad.thickness',
        label: 'Friction material thickness',
        position: 'FL.in',
        sent: { value: 6, unit: '1/32in' },
        sentText: '6/32 in',
        value: 4.8,
        unit: 'mm',
        by: 'entrant',
      },
    ]);
    expect(only(told, 'FL.in').inWords).toContain('you declared 4.8 mm (6/32 in as written)');
  });

  test('takes what the inspector measured, and says who gave it', () => {
    const declared = { 'pad.thickness': { 'FL.in': 8 } };
    const told = explain(PADS, {
      answers: declared,
      measured: { 'pad.thickness': { 'FL.in': { value: 0.35, unit: 'cm' } } },
      input: { stage: 'line' },
    });
    const [input] = only(told, 'FL.in').inputs;
    expect(input).toMatchObject({ sentText: '0.35 cm', value: 3.5, by: 'inspector' });
    expect(only(told, 'FL.in').inWords).toContain('the inspector measured 3.5 mm (0.35 cm as written)');
  });

  test('of the vehicle record shows the record, and what it does not state', () => {
    const rule = on('rotor.thickness', { kind: 'limit', atLeast: { vehicle: 'rotorMinimumThicknessMm' } });
    const vehicle = { ...CAR, rotorMinimumThicknessMm: { FL: 22.4 } };
    const told = explain(rule, { answers: { 'rotor.thickness': { FL: 22, FR: 23 } }, input: { vehicle } });
    expect(told.text).toBe(
      '"Rotor thickness (iron)" must be at least the rotor minimum thickness that the vehicle record states at each wheel.',
    );
    expect(only(told, 'FL').records).toEqual([
      {
        from: 'vehicle',
        name: 'rotorMinimumThicknessMm.FL',
        label: 'rotor minimum thickness FL',
        value: 22.4,
        unit: 'mm',
      },
    ]);
    expect(only(told, 'FL').comparison.text).toBe('22 mm ≥ 22.4 mm is not so, short by 0.4 mm');
    expect(only(told, 'FR').records[0]).not.toHaveProperty('value');
  });
});

const TEXTS: readonly [string, Record<string, unknown>, Record<string, unknown>, string, string][] = [
  [
    'range',
    on('oil.level.minutes-since-shutdown', {
      kind: 'range',
      from: { value: 5, unit: 'min' },
      to: { value: 10, unit: 'min' },
    }),
    { 'oil.level.minutes-since-shutdown': 4 },
    '"Minutes between stopping the engine and reading the level" must be between 5 min and 10 min, both included.',
    '4 min within 5 min to 10 min is not so, outside by 1 min',
  ],
  [
    'one-of',
    on('brake-fluid.class', { kind: 'one-of', values: { parameter: 'fluids' } }),
    { 'brake-fluid.class': 'DOT 3' },
    '"Brake fluid class" must be one of: DOT 4, DOT 5.1.',
    'DOT 3 is not one of: DOT 4, DOT 5.1',
  ],
  [
    'none-of',
    on('brake.pedal', { kind: 'none-of', values: ['sinks'] }),
    { 'brake.pedal': 'sinks' },
    '"Brake pedal" must be none of: sinks.',
    'sinks is among what is not accepted, sinks',
  ],
  [
    'confirm',
    on('body.floor-mats-out', { kind: 'confirm' }),
    { 'body.floor-mats-out': false },
    '',
    'answered no, asked for is yes',
  ],
  [
    'age',
    on('brake-fluid.flushed-on', { kind: 'age', atMost: { parameter: 'fluidAge' } }),
    { 'brake-fluid.flushed-on': '2025-11-24' },
    '"Brake fluid last flushed on" must be at most 12 months old on the last event day, 2026-11-29.',
    '2025-11-24 on or after 2025-11-29 (at most 12 months old on 2026-11-29) is not so, too old by 5 days',
  ],
  [
    'expression with a comparison',
    says('brake_fluid.wet_boiling_point < brake_fluid.dry_boiling_point', [
      'brake-fluid.wet-boiling-point',
      'brake-fluid.dry-boiling-point',
    ]),
    { 'brake-fluid.wet-boiling-point': 180, 'brake-fluid.dry-boiling-point': 180 },
    'This must be so: "Wet boiling point of the brake fluid" is less than "Dry boiling point of the brake fluid".',
    '180 °C < 180 °C is not so, exactly on the limit, which is not enough',
  ],
];

test.each(TEXTS)('%s is told in words', (_kind, rule, answers, text, comparison) => {
  const told = explain(rule, { answers });
  if (text !== '') expect(told.text).toBe(text);
  expect(told.positions[0]?.comparison.text).toBe(comparison);
});

const EXPRESSIONS: readonly [string, string][] = [
  [
    '!params.strictBrakes || brake.pedal == "firm"',
    '"Whether brakes are judged strictly" is no or "Brake pedal" is firm',
  ],
  [
    'abs(wheel.torque.FL - vehicle.wheelNutTorqueNm) <= q(10, "Nm")',
    `the size of ("Wheel fastener torque" at FL − the car's wheel nut torque) is at most 10 N·m`,
  ],
  [
    'pad.thickness.all(p, pad.thickness[p] >= params.padMinimum)',
    'for every position p of "Friction material thickness": "Friction material thickness" at p is at least 4 mm',
  ],
  [
    '"FL" in wheel.torque && brake_fluid.class in ["DOT 4", "DOT 5.1"]',
    '"Wheel fastener torque" is given at FL and "Brake fluid class" is one of: DOT 4, DOT 5.1',
  ],
  [
    'date("2026-01-01") <= event.startsOn && (has(brake.pedal) || params.strictBrakes)',
    '2026-01-01 is not after the first event day (2026-11-28) and ("Brake pedal" is given or "Whether brakes are judged strictly" is yes)',
  ],
  [
    'brake_fluid.level.level != "low" || !(max(pad.thickness) > q(20, "mm"))',
    '"Brake fluid level", Level is not low or not so: (the largest of ("Friction material thickness") is more than 20 mm)',
  ],
];

test.each(EXPRESSIONS)('%s in words', (expr, words) => {
  const items = ['brake.pedal', 'wheel.torque', 'pad.thickness', 'brake-fluid.class', 'brake-fluid.level'];
  const told = explain(says(expr, items));
  expect(told.text).toBe(`This must be so: ${words}.`);
  expect(told.expression).toBe(expr);
});

describe('a condition', () => {
  const rule = { ...PADS, when: 'brake.pedal == "long"' };

  test('that holds is shown with what it read', () => {
    const told = explain(rule, { answers: { 'brake.pedal': 'long', 'pad.thickness': { 'FL.in': 5 } } });
    expect(told.condition).toEqual({ expression: 'brake.pedal == "long"', text: '"Brake pedal" is long' });
    expect(only(told, 'FL.in').condition?.holds).toBe(true);
    expect(only(told, 'FL.in').inputs.map((input) => input.item)).toEqual(['pad.thickness', 'brake.pedal']);
  });

  test('that is false is the reason why there is no finding', () => {
    const told = explain(rule, { answers: { 'brake.pedal': 'firm' } });
    expect(told).toMatchObject({ applies: false, positions: [] });
    expect(told.reason).toBe('It applies only where "Brake pedal" is long, and that is not so here.');
    expect(told.notAt).toHaveLength(8);
  });

  test('that nobody can tell makes the rule unanswerable, and says so', () => {
    const told = only(explain(rule), 'FL.in');
    expect(told.condition?.holds).toBeNull();
    expect(told.inWords).toContain('whether the rule applies could not be told');
    expect(told.finding.counts).toBe('bar');
  });

  test('that is false at one position leaves the others', () => {
    const told = explain({ ...PADS, when: 'position != "FL.in"' }, { answers: { 'pad.thickness': { 'FR.in': 5 } } });
    expect(told.positions).toHaveLength(7);
    expect(told.notAt.map((one) => one.position)).toEqual(['FL.in']);
  });
});

test('a rule on what this car is not asked says which property decides it', () => {
  const rule = on('rotor.thickness', { kind: 'limit', atLeast: { value: 20 } });
  const vehicle = { ...CAR, rotor: { front: 'carbon', rear: 'carbon' } } as const;
  const told = explain(rule, { input: { vehicle } });
  expect(told).toMatchObject({ applies: false, positions: [], notAt: [] });
  expect(told.reason).toBe(
    '"Rotor thickness (iron)" is not asked of this car; it is asked where the record says rotor: iron (this car: front carbon, rear carbon).',
  );
});

describe('where a value comes from', () => {
  const parameter = (origins: Origins, input: Partial<JudgeInput> = {}) =>
    explain(PADS, { origins, input }).parameters.find(({ name }) => name === 'padMinimum');

  test('the rule set, with meaning and source', () => {
    expect(parameter(NO_CHANGES)).toEqual({
      name: 'padMinimum',
      value: 4,
      unit: 'mm',
      meaning: 'Least friction material',
      source: 'common practice, no source',
      from: 'rule-set',
    });
  });

  test('a venue, with what it replaced', () => {
    const was = { value: 3, unit: 'mm' };
    expect(parameter({ parameters: { padMinimum: { from: 'venue', was } }, rules: {} })).toMatchObject({
      from: 'venue',
      was,
    });
  });

  test('a run group from before overlays, with what it replaced', () => {
    const parameters = { padMinimum: { value: 0.6, unit: 'cm' } };
    expect(parameter(NO_CHANGES, { parameters })).toMatchObject({
      value: 0.6,
      unit: 'cm',
      from: 'run-group',
      was: { value: 4, unit: 'mm' },
    });
  });

  test('an effect that a layer changed keeps its reason', () => {
    const changed = { by: 'venue', reason: 'Steep pit lane', was: { effect: 'advise', watch: false } } as const;
    const told = explain(PADS, {
      origins: { parameters: {}, rules: { 'rule-under-test': { from: 'rule-set', changed } } },
    });
    expect(told.origin).toEqual({ from: 'rule-set', changed });
  });
});

describe('what a finding counts', () => {
  const THIN = { 'pad.thickness': { 'FL.in': 3 } };
  const because = (rule: Record<string, unknown>, what: Case = {}) =>
    only(explain(rule, { answers: THIN, ...what }), 'FL.in');

  test('less under a concession, which is named with its end', () => {
    const concessions = [{ ruleId: 'rule-under-test', concessionId: 'c1', expiresAt: '2026-11-29T10:00:00.000Z' }];
    const told = because(PADS, { input: { concessions } });
    expect(told.countsBecause).toMatch(/a concession covers it until 2026-11-29T10:00:00\.000Z: the line must look/u);
    expect(told.inWords).toContain('A concession covers this until 2026-11-29T10:00:00.000Z.');
  });

  test('nothing on watch', () => {
    const told = because({ ...PADS, watch: true });
    expect(told.finding.counts).toBe('no');
    expect(told.countsBecause).toBe('The rule is on watch: what it finds is counted and judges nobody.');
    expect(told.inWords).toContain('only on trial here');
  });

  test('a look for what only an inspector answers, and a bar at the line', () => {
    const rule = on('brake-fluid.measured-boiling-point', { kind: 'limit', atLeast: { value: 190, unit: '°C' } });
    const before = explain(rule).positions[0];
    expect(before?.countsBecause).toMatch(/^Only an inspector answers this/u);
    expect(before?.inputs[0]?.note).toBe('Only an inspector answers this.');
    expect(before?.inWords).not.toContain('submit the declaration again');
    const atLine = explain(rule, { input: { stage: 'line' } }).positions[0];
    expect(atLine?.countsBecause).toMatch(/^What is not known counts like not met\. The rule bars/u);
  });

  test('what the inspector saw, although the numbers are fine', () => {
    const checked = checkRuleSet(
      makeRuleSet({ rules: [makeRule({ ...PADS, test: { ...PADS.test, atLeast: { value: 4 } } })] }),
    );
    if (!checked.ok) throw new Error(JSON.stringify(checked.faults));
    const declared = { 'pad.thickness': { 'FL.in': 8 } };
    const input = inputOf({ answers: answersOf(declared), stage: 'line' });
    const { findings: judged } = evaluate(checked.compiled, input);
    const findings = judged.map((finding) => ({
      ...finding,
      result: 'not-met' as const,
      counts: 'bar' as const,
      message: 'x',
    }));
    const what = { compiled: checked.compiled, origins: NO_CHANGES, input, sent: { declared }, findings, judged };
    const told = explainRule('rule-under-test', what)?.positions[0];
    expect(told?.comparison).toEqual({ text: '8 mm ≥ 4 mm is so, with 4 mm to spare', holds: true });
    expect(told?.inWords).toContain('The inspector looked and marked it not ok.');
  });
});

describe('the built-in rules', () => {
  const ruleSet = RuleSet.parse(BUILT_IN_RULE_SET);
  const compiled = compileRuleSet({ ...ruleSet, examples: [] });
  const NUMBER = String.raw`(-?[\d.]+(?:e-?\d+)?)`;
  // the comparison read back as text and made again with plain arithmetic: the words must be true
  const COMPARED = new RegExp(`^${NUMBER}[^≥≤<>]*? (≥|≤|<|>) ${NUMBER}.* is (so|not so)`, 'u');
  const HOLDS: Record<string, (a: number, b: number) => boolean> = {
    '≥': (a, b) => a >= b,
    '≤': (a, b) => a <= b,
    '<': (a, b) => a < b,
    '>': (a, b) => a > b,
  };

  /** Judges an example and explains the rules it is about. */
  function explainExample(example: RuleSet['examples'][number]) {
    const { vehicle, event, venue = {}, parameters = {}, photos = {}, stage = 'declaration' } = example;
    const base = { vehicle, event, venue, parameters, photos, stage, concessions: [] };
    const measured = answersOf(example.measured ?? {});
    const input = { ...base, answers: answersOf(example.answers), measured };
    const { findings } = evaluate(compiled, input);
    const sent = { declared: example.answers, measured: example.measured };
    const what = { compiled, origins: NO_CHANGES, input, sent, findings, judged: findings };
    return (example.only ?? []).map((ruleId) => explainRule(ruleId, what)).filter((told) => told !== undefined);
  }

  const explained = ruleSet.examples.flatMap(explainExample);

  test('every example is explained: the words agree with the result', () => {
    expect(explained.length).toBeGreaterThan(300);
    for (const { ruleId, reason, applies, text, positions } of explained) {
      expect(reason === '', ruleId).toBe(applies);
      expect(text + reason, ruleId).not.toMatch(/undefined|\[object/u);
      for (const { finding, comparison, inWords } of positions) {
        const holds = finding.result === 'unanswerable' ? null : finding.result === 'met';
        expect(comparison.holds, ruleId).toBe(holds);
        expect(comparison.text + inWords, ruleId).not.toMatch(/undefined|\[object|NaN/u);
      }
    }
  });

  test('a comparison read back from its text holds exactly when it says so', () => {
    const read = explained
      .flatMap((told) => told.positions.map(({ comparison }) => COMPARED.exec(comparison.text)))
      .filter((match) => match !== null);
    expect(read.length).toBeGreaterThan(100);
    for (const [text, left, sign = '', right, isSo] of read) {
      expect(HOLDS[sign]?.(Number(left), Number(right)), text).toBe(isSo === 'so');
    }
  });

  test('what was judged is among the inputs', () => {
    for (const { ruleId, expression, positions } of explained) {
      if (expression !== undefined) continue;
      for (const { finding, inputs } of positions) {
        const answered = inputs.some((one) => one.value !== undefined) || finding.limit?.includes('photo') === true;
        if (finding.result !== 'unanswerable') expect(answered, ruleId).toBe(true);
      }
    }
  });

  test('names every parameter that the rule is written with', () => {
    const input = inputOf({});
    const { findings } = evaluate(compiled, input);
    for (const rule of ruleSet.rules) {
      const written = JSON.stringify([rule.when, rule.test]);
      const named = [
        ...[...written.matchAll(/params\.(\w+)/gu)].map(([, name]) => name),
        ...[...written.matchAll(/"parameter":"(\w+)"/gu)].map(([, name]) => name),
      ];
      const told = explainRule(rule.id, {
        compiled,
        origins: NO_CHANGES,
        input,
        sent: { declared: {} },
        findings,
        judged: findings,
      });
      expect(new Set(told?.parameters.map(({ name }) => name)), rule.id).toEqual(new Set(named));
    }
  });

  test('never throws, whatever little is known of the car', () => {
    const ids = ruleSet.rules.map(({ id }) => id);
    const car = fc.record(
      {
        rotor: fc.constantFrom({ front: 'iron', rear: 'carbon' } as const, { front: 'carbon' } as const),
        powertrain: fc.constantFrom('combustion', 'hybrid', 'battery'),
        restraint: fc.constantFrom('three-point', 'harness'),
        body: fc.constantFrom('open', 'closed'),
      },
      { requiredKeys: [] },
    );
    fc.assert(
      fc.property(
        car,
        fc.subarray(ids, { maxLength: 30 }),
        fc.constantFrom('declaration', 'line'),
        (known, some, stage) => {
          const vehicle = { description: 'Invented', ...known } as JudgeInput['vehicle'];
          const input = inputOf({ vehicle, stage });
          const { findings } = evaluate(compiled, input);
          for (const id of some) {
            const told = explainRule(id, {
              compiled,
              origins: NO_CHANGES,
              input,
              sent: { declared: {} },
              findings,
              judged: findings,
            });
            expect(told?.positions.map(({ finding }) => finding)).toEqual(findings.filter((one) => one.ruleId === id));
            expect(told?.applies === true || (told?.reason ?? '').length > 10).toBe(true);
          }
        },
      ),
      { numRuns: 60 },
    );
  });
});

test('a rule that these rules do not have has no explanation', () => {
  const compiled = compileRuleSet(
    RuleSet.parse(makeRuleSet({ rules: [makeRule(on('brake.pedal', { kind: 'one-of', values: ['firm'] }))] })),
  );
  const what = { compiled, origins: NO_CHANGES, input: inputOf({}), sent: { declared: {} }, findings: [], judged: [] };
  expect(explainRule('another', what)).toBeUndefined();
});
