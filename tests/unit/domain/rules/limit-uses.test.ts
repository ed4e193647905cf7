import { expect, test } from 'vitest';
import { BUILT_IN_RULE_SET } from '../../../../seed/built-in.ts';
import { limitForms } from '../../../../src/domain/rules/overlay/limit-uses.ts';
import { RuleSet } from '../../../../src/domain/rules/model/rule-set.ts';

const builtIn = RuleSet.parse(BUILT_IN_RULE_SET);
const forms = limitForms(builtIn);

test('every limit of the built-in rules has a form, and each rule that names it is among those that read it', () => {
  expect([...forms.keys()]).toEqual(Object.keys(builtIn.parameters));
  for (const rule of builtIn.rules) {
    const named = [...JSON.stringify(rule).matchAll(/"parameter":"(\w+)"|params\.(\w+)/g)].map(
      (found) => found[1] ?? found[2],
    );
    for (const name of named) {
      expect(
        forms.get(name ?? '')?.usedBy.map(({ ruleId }) => ruleId),
        name,
      ).toContain(rule.id);
    }
  }
});

test('the built-in value of every number is itself plausible, and the range is in the unit of the limit', () => {
  for (const [name, { plausible }] of forms) {
    const { value } = builtIn.parameters[name] ?? {};
    if (plausible === undefined || typeof value !== 'number') continue;
    expect(plausible.from, name).toBeLessThanOrEqual(value);
    expect(plausible.to, name).toBeGreaterThanOrEqual(value);
  }
  // The catalogue gives a pad in mm; the limit is in mm too.
  expect(forms.get('padThicknessMinimum')).toMatchObject({ kind: 'number', plausible: { basis: 'item' } });
});

test('a limit in another unit than its item has the range converted (1 in = 25.4 mm exactly, BIPM SI brochure)', () => {
  const inInches = RuleSet.parse({
    name: 'Inches',
    parameters: { pad: { value: 0.2, unit: 'in', meaning: 'Thinnest pad' } },
    rules: [
      {
        id: 'pad',
        title: 'Pad',
        items: ['pad.thickness'],
        test: { kind: 'limit', item: 'pad.thickness', atLeast: { parameter: 'pad' } },
        effect: 'bar',
        message: 'Too thin.',
        fix: 'Fit new pads.',
        basis: { kind: 'common-practice' },
      },
    ],
    examples: [],
  });
  const metric = forms.get('padThicknessMinimum')?.plausible;
  const inches = limitForms(inInches).get('pad')?.plausible;
  expect(inches?.from).toBeCloseTo((metric?.from ?? 0) / 25.4, 5);
  expect(inches?.to).toBeCloseTo((metric?.to ?? 0) / 25.4, 5);
});

test('lists and calendar steps say what they may hold', () => {
  const lists = [...forms].filter(([, { kind, options }]) => kind === 'list' && options !== undefined);
  expect(lists.length).toBeGreaterThan(3);
  for (const [name, { options }] of lists) {
    expect(builtIn.parameters[name]?.value, name).toSatisfy((value: string[]) =>
      value.every((one) => options?.includes(one)),
    );
  }
  expect(forms.get('brakeFluidAgeMaximum')?.wholeNumber).toBe(true);
});
