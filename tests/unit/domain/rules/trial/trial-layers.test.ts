import { describe, expect, it } from 'vitest';
import { EMPTY_OVERLAY, Overlay } from '../../../../../src/domain/rules/overlay/overlay.ts';
import { resolveRules, type RuleLayer } from '../../../../../src/domain/rules/overlay/resolve.ts';
import { RuleSet } from '../../../../../src/domain/rules/model/rule-set.ts';
import { fitLayers } from '../../../../../src/domain/rules/trial/trial.ts';
import { makeRule, makeRuleSet } from '../rules-support.ts';

const pad = (overrides: Record<string, unknown> = {}) =>
  makeRule({
    id: 'pad',
    items: ['pad.thickness'],
    test: { kind: 'limit', item: 'pad.thickness', atLeast: { parameter: 'padMinimum' } },
    ...overrides,
  });
const pedal = (overrides: Record<string, unknown> = {}) =>
  makeRule({
    id: 'pedal',
    items: ['brake.pedal'],
    test: { kind: 'one-of', item: 'brake.pedal', values: ['firm'] },
    ...overrides,
  });

const PARAMETERS = { padMinimum: { value: 4, unit: 'mm', meaning: 'Least friction material' } };
const base = (rules: unknown[] = [pad(), pedal()]) => RuleSet.parse(makeRuleSet({ parameters: PARAMETERS, rules }));
const layer = (from: RuleLayer['from'], overlay: object): RuleLayer => ({
  from,
  overlay: Overlay.parse({ ...EMPTY_OVERLAY, ...overlay }),
});
const told = (fitted: ReturnType<typeof fitLayers>) =>
  fitted.notApplied.map(({ from, pointer, code }) => `${from} ${pointer} ${code}`);

describe('fitLayers', () => {
  it('is what resolving gives where everything fits', () => {
    const layers = [
      layer('venue', { parameters: { padMinimum: { value: 5 } } }),
      layer('run-group', { effects: { pedal: { effect: 'inspect', reason: 'Seen at the line' } } }),
    ];
    const fitted = fitLayers(base(), layers);
    const resolved = resolveRules(base(), layers);
    expect(resolved.ok && resolved.ruleSet).toEqual(fitted.ruleSet);
    expect(fitted.notApplied).toEqual([]);
    expect(fitted.ruleSet.parameters['padMinimum']?.value).toBe(5);
    expect(fitted.ruleSet.rules.map((rule) => rule.effect)).toEqual(['bar', 'inspect']);
  });

  it.each<[string, object, string]>([
    [
      'a parameter that is gone',
      { parameters: { runout: { value: 1, unit: 'mm' } } },
      '/parameters/runout unknown-parameter',
    ],
    [
      'a unit that does not convert',
      { parameters: { padMinimum: { value: 6, unit: 'kPa' } } },
      '/parameters/padMinimum/unit unit-clash',
    ],
    [
      'a value of another kind',
      { parameters: { padMinimum: { value: 'thick' } } },
      '/parameters/padMinimum/value type-clash',
    ],
    [
      'an effect of a rule that is gone',
      { effects: { fluid: { effect: 'bar', reason: 'Here' } } },
      '/effects/fluid unknown-rule',
    ],
    ['a rule that the rules tried have', { rules: [pedal()] }, '/rules/0/id duplicate-id'],
    [
      'a rule on an item that is unknown',
      { rules: [pedal({ id: 'other', items: ['nothing'] })] },
      '/rules/0/items/0 unknown-item',
    ],
  ])('leaves out %s, says so and keeps the rest', (_what, overlay, expected) => {
    const rest = layer('venue', { parameters: { padMinimum: { value: 5 } } });
    const fitted = fitLayers(base(), [rest, layer('run-group', overlay)]);
    expect(told(fitted)[0]).toBe(`run-group ${expected}`);
    expect(fitted.ruleSet.parameters['padMinimum']?.value).toBe(5);
    expect(fitted.ruleSet.rules.map((rule) => rule.id)).toEqual(['pad', 'pedal']);
  });

  it('leaves out what loosens a floor of the rules tried', () => {
    const fitted = fitLayers(base([pad({ floor: true }), pedal()]), [
      layer('run-group', {
        parameters: { padMinimum: { value: 3 } },
        effects: { pedal: { effect: 'advise', reason: 'x' } },
      }),
    ]);
    expect(told(fitted)).toEqual(['run-group /parameters/padMinimum floor-loosened']);
    expect(fitted.ruleSet.parameters['padMinimum']?.value).toBe(4);
    expect(fitted.ruleSet.rules[1]?.effect).toBe('advise');
  });

  it('names places as the group wrote them, also after others were left out', () => {
    const rules = [pedal(), pedal({ id: 'own' }), pedal({ id: 'odd', items: ['nothing'] }), pedal({ id: 'kept' })];
    // an effect on the rule that is left out falls in the next round
    const effects = { odd: { effect: 'advise' as const, reason: 'x' } };
    const fitted = fitLayers(base(), [layer('venue', { rules }), layer('run-group', { effects })]);
    expect(told(fitted).map((line) => line.replace(/(\/rules\/\d|\/effects\/odd).*/u, '$1'))).toEqual(
      expect.arrayContaining(['venue /rules/0', 'venue /rules/2', 'run-group /effects/odd']),
    );
    expect(fitted.ruleSet.rules.map((rule) => rule.id)).toEqual(['pad', 'pedal', 'own', 'kept']);
  });

  it('ends with the rules tried when nothing fits', () => {
    const overlay = { parameters: { a: { value: 1 } }, effects: { b: { effect: 'bar', reason: 'x' } }, rules: [pad()] };
    const fitted = fitLayers(base(), [layer('venue', overlay), layer('run-group', overlay)]);
    expect(fitted.ruleSet.rules).toEqual(base().rules);
    expect(fitted.notApplied).toHaveLength(6);
  });
});
