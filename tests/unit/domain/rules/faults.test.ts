import { describe, expect, it } from 'vitest';
import { checkRuleSet } from '../../../../src/domain/rules/check/check.ts';
import { EMPTY_OVERLAY } from '../../../../src/domain/rules/overlay/overlay.ts';
import { resolveRules } from '../../../../src/domain/rules/overlay/resolve.ts';
import { RULE_FAULT_CODES, type RuleFault, type RuleFaultCode } from '../../../../src/domain/rules/model/rule-fault.ts';
import { readYaml } from '../../../../src/http/yaml/yaml-read.ts';
import { CAR, EVENT, makeRule, makeRuleSet } from './rules-support.ts';

type Json = Record<string, unknown>;

interface Fixture {
  /** what is wrong, as rule set or as what finds it */
  faults: () => readonly Pick<RuleFault, 'pointer' | 'code' | 'detail'>[];
  /** every fault that must be named: place and message, word for word */
  expected: readonly string[];
}

const LINES = { items: ['brake.lines'], test: { kind: 'confirm', item: 'brake.lines' } };
const PAD = { items: ['pad.thickness'], test: { kind: 'limit', item: 'pad.thickness', atLeast: { value: 5 } } };
const pad = (atLeast: Json): Json => ({ ...PAD, test: { ...PAD.test, atLeast } });
const expression = (item: string, expr: string): Json => ({ items: [item], test: { kind: 'expression', expr } });
const pedal = (values: string[]): Json => ({
  items: ['brake.pedal'],
  test: { kind: 'one-of', item: 'brake.pedal', values },
});

const check = (document: unknown) => () => {
  const checked = checkRuleSet(document);
  return checked.ok ? [] : checked.faults;
};
const rule = (one: Json, rest: Json = {}) => check(makeRuleSet({ rules: [makeRule(one)], ...rest }));
const example = (more: Json) =>
  rule(LINES, {
    examples: [{ name: 'A car', vehicle: CAR, answers: {}, event: EVENT, expect: 'barred', ...more }],
  });

/** One fixture for each code of `RuleFaultCode`; the type keeps the table whole. */
const FIXTURES: Readonly<Record<RuleFaultCode, Fixture>> = {
  'bad-yaml': {
    faults: () => {
      const read = readYaml('name: Rules\nname: Others\n');
      return read.ok ? [] : read.faults;
    },
    expected: ['/name: this key is there already, in line 1'],
  },
  'bad-shape': {
    faults: rule({ ...LINES, effect: 'warn', urgency: 1 }),
    expected: [
      '/rules/0/effect: Invalid option: expected one of "bar"|"inspect"|"advise"',
      '/rules/0/urgency: "urgency" is not known here',
    ],
  },
  'missing-basis': {
    faults: rule({ ...LINES, basis: undefined }),
    expected: ['/rules/0/basis: say where the rule comes from: published with its source, or common-practice'],
  },
  'duplicate-id': {
    faults: check(makeRuleSet({ rules: [makeRule(LINES), makeRule(PAD)] })),
    expected: ['/rules/1/id: rule 0 has the id "rule-under-test" already'],
  },
  'unknown-item': {
    faults: rule({ ...LINES, items: ['brake.lines', 'brake.linez'] }),
    expected: ['/rules/0/items/1: there is no item "brake.linez" in the catalogue'],
  },
  'unknown-field': {
    faults: rule({
      items: ['exhaust.sound-level'],
      test: { kind: 'limit', item: 'exhaust.sound-level', field: 'loudness', atMost: { value: 98 } },
    }),
    expected: [
      '/rules/0/test/field: "exhaust.sound-level" has no part "loudness": its parts are "level", "distance", "method"',
    ],
  },
  'unknown-parameter': {
    faults: rule(pad({ parameter: 'padMinimun' })),
    expected: ['/rules/0/test/atLeast/parameter: there is no parameter "padMinimun"'],
  },
  'unknown-function': {
    faults: rule(expression('oil.level.reading', 'sqrt(oil.level.reading) > 0.5')),
    expected: [
      '/rules/0/test/expr: there is no function "sqrt"; there are q, date, days, months, atEnd, abs, min, max, spread, size, startsWith, double, has',
    ],
  },
  'unknown-name': {
    faults: rule(pad({ vehicle: 'padMinimumMm' })),
    expected: ['/rules/0/test/atLeast/vehicle: the vehicle record has no "padMinimumMm"'],
  },
  'unknown-option': {
    faults: rule(pedal(['firm', 'frim'])),
    expected: ['/rules/0/test/values/1: "frim" is not an option; there are firm, long, spongy, sinks'],
  },
  'unknown-unit': {
    faults: rule(pad({ value: 4, unit: 'furlong' })),
    expected: ['/rules/0/test/atLeast/unit: "furlong" is not a known unit'],
  },
  'unknown-position': {
    faults: rule(expression('wheel.torque', 'wheel.torque["front-left"] > q(100, "N·m")')),
    expected: ['/rules/0/test/expr: there is no position "front-left"; there are FL, FR, RL, RR'],
  },
  'unknown-rule': {
    faults: example({ only: ['pads'] }),
    expected: ['/examples/0/only/0: there is no rule "pads"'],
  },
  'type-clash': {
    faults: rule({ items: ['brake.pedal'], test: { kind: 'confirm', item: 'brake.pedal' } }),
    expected: ['/rules/0/test/item: "brake.pedal" is answered by choice, this test needs confirm or yes-no'],
  },
  'unit-clash': {
    faults: rule(pad({ value: 4, unit: 'kPa' })),
    expected: ['/rules/0/test/atLeast/unit: kPa does not convert to mm, the unit of the item'],
  },
  'divides-by-zero': {
    faults: check(
      makeRuleSet({
        rules: [
          makeRule({ id: 'a', ...expression('pad.thickness', 'pad.thickness["FL.in"] / q(0.0, "in") > 1.0') }),
          makeRule({ id: 'b', ...expression('brake.lines', 'brake.lines && 7 % (3 - 3) == 1') }),
          makeRule({
            id: 'c',
            ...expression('brake.lines', 'brake.lines || 1.0 / -0.0 > 1.0'),
            when: '1 / (0 * 2) == 1',
          }),
          makeRule({ id: 'd', ...expression('pad.thickness', 'pad.thickness["FL.in"] / params.share > q(1, "mm")') }),
        ],
        parameters: { share: { value: 0, meaning: 'Of how many' } },
      }),
    ),
    expected: [
      '/parameters/share/value: a rule divides by this, and nothing is divided by 0',
      '/rules/0/test/expr: this is 0 whatever is answered, and nothing is divided by 0: the rule would never have a result',
      '/rules/1/test/expr: this is 0 whatever is answered, and nothing is divided by 0: the rule would never have a result',
      '/rules/2/test/expr: this is 0 whatever is answered, and nothing is divided by 0: the rule would never have a result',
      '/rules/2/when: this is 0 whatever is answered, and nothing is divided by 0: the rule would never have a result',
    ],
  },
  'item-not-listed': {
    faults: rule({ ...LINES, items: ['brake.lights'] }),
    expected: ['/rules/0/items: the test reads "brake.lines", which the rule does not list'],
  },
  'each-mismatch': {
    faults: rule({ ...LINES, each: 'wheel' }),
    expected: ['/rules/0/each: "brake.lines" has no single value per wheel'],
  },
  'bad-date': {
    faults: rule(expression('oil.changed-on', 'oil.changed_on > date("2026-02-30")')),
    expected: ['/rules/0/test/expr: "2026-02-30" is not a date'],
  },
  'bad-expression': {
    faults: rule(expression('brake.lines', 'brake.lines == "abc')),
    expected: ['/rules/0/test/expr: found = but expecting end of input'],
  },
  'expression-too-large': {
    faults: rule(expression('brake.lines', `${'('.repeat(40)}brake.lines${')'.repeat(40)}`)),
    expected: ['/rules/0/test/expr: nested deeper than 32 levels'],
  },
  'not-in-subset': {
    faults: rule(expression('pad.thickness', 'pad.thickness.map(p, p) == []')),
    expected: ['/rules/0/test/expr: map is not part of the expressions of rules; all, exists and exists_one are'],
  },
  'unused-parameter': {
    faults: rule(LINES, { parameters: { spare: { value: 1, meaning: 'Nothing' } } }),
    expected: ['/parameters/spare: no rule uses the parameter "spare"'],
  },
  'unknown-category': {
    faults: rule({ ...LINES, concession: 'papers' }),
    expected: ['/rules/0/concession: the rule set has no concession category "papers"'],
  },
  'unused-category': {
    faults: rule(LINES, { concessionCategories: { papers: { maximumDays: 3, meaning: 'Papers' } } }),
    expected: ['/concessionCategories/papers: no rule is in the concession category "papers"'],
  },
  'never-applies': {
    faults: rule({ ...LINES, when: 'vehicle.body == "open" && vehicle.body == "closed"' }),
    expected: ['/rules/0/when: the rule can never apply: this is true for no car that is asked its items'],
  },
  'never-fails': {
    faults: check(
      makeRuleSet({
        rules: [
          makeRule({ id: 'a', ...pad({ value: 0 }) }),
          makeRule({ id: 'b', ...expression('brake.lines', 'true') }),
        ],
      }),
    ),
    expected: [
      '/rules/0/test: the rule can never fail: every answer that "pad.thickness" allows meets this',
      '/rules/1/test: the rule can never fail: this is true whatever is answered, or has no answer',
    ],
  },
  'floor-loosened': {
    faults: () => {
      const checked = checkRuleSet(makeRuleSet({ rules: [makeRule({ ...PAD, floor: true })] }));
      if (!checked.ok) throw new Error('the fixture has other faults');
      const effects = { 'rule-under-test': { effect: 'advise' as const, reason: 'Club day' } };
      const resolved = resolveRules(checked.ruleSet, [{ from: 'run-group', overlay: { ...EMPTY_OVERLAY, effects } }]);
      return resolved.ok ? [] : resolved.faults;
    },
    expected: [
      '/effects/rule-under-test/effect: rule "rule-under-test" is a floor: it may be tightened here, not loosened, ' +
        'and advise is less than bar',
    ],
  },
  'bad-example': {
    faults: example({ answers: { 'brake.linez': true } }),
    expected: ['/examples/0/answers/brake.linez: the catalogue has no item "brake.linez"'],
  },
  'example-failed': {
    faults: example({ answers: { 'brake.lines': true } }),
    expected: ['/examples/0/expect: "A car" must be barred and is clean (nothing counts against it)'],
  },
};

describe('every kind of fault', () => {
  it('has a fixture', () => {
    expect(Object.keys(FIXTURES).toSorted()).toEqual([...RULE_FAULT_CODES].toSorted());
  });

  it.each(RULE_FAULT_CODES.map((code) => [code, FIXTURES[code]] as const))('%s', (code, { faults, expected }) => {
    const found = faults();
    expect(found.map((fault) => `${fault.pointer}: ${fault.detail}`)).toEqual(expected);
    expect(new Set(found.map((fault) => fault.code))).toEqual(new Set([code]));
  });
});
