import { describe, expect, it } from 'vitest';
import { checkRuleSet } from '../../../../../src/domain/rules/check/check.ts';
import { faultsOf, makeRule, makeRuleSet } from '../rules-support.ts';

const WHEELS = ['FL', 'FR', 'RL', 'RR'] as const;
const EVENT = { startsOn: '2026-06-13', endsOn: '2026-06-14' };
const RULE = makeRule({
  id: 'tread',
  items: ['tyre.cold-pressure'],
  test: { kind: 'limit', item: 'tyre.cold-pressure', atLeast: { parameter: 'least' } },
});

const all = (value: unknown) => Object.fromEntries(WHEELS.map((wheel) => [wheel, value]));
const document = (least: Record<string, unknown>, values: Record<string, unknown>[], more = {}) =>
  makeRuleSet({
    parameters: { least: { meaning: 'Least pressure', ...least } },
    rules: [RULE],
    examples: values.map((value, index) => ({
      name: `example ${index}`,
      vehicle: { description: 'Example car' },
      answers: { 'tyre.cold-pressure': all(value) },
      event: EVENT,
      expect: index === 0 ? 'clean' : 'barred',
      ...more,
    })),
  });
const AROUND = [{ parameter: 'least' }, { parameter: 'least', plus: -1 }];

describe('values of an example that follow a parameter', () => {
  it('hold whatever the limit is, in its own unit', () => {
    for (const least of [
      { value: 140, unit: 'kPa' },
      { value: 180, unit: 'kPa' },
    ]) {
      expect(faultsOf(document(least, AROUND))).toEqual([]);
    }
    // 1.8 bar is 180 kPa; a tenth of a bar less is 170 kPa
    const inBar = [{ parameter: 'least' }, { parameter: 'least', plus: -0.1 }];
    expect(faultsOf(document({ value: 1.8, unit: 'bar' }, inBar))).toEqual([]);
  });

  it('follow the override of the example, as in a run group', () => {
    const more = { parameters: { least: { value: 200 } } };
    expect(faultsOf(document({ value: 140, unit: 'kPa' }, AROUND, more))).toEqual([]);
  });

  it('are faults where they name no number, at their place', () => {
    const checked = checkRuleSet(document({ value: 140, unit: 'kPa' }, [{ parameter: 'most' }]));
    const faults = checked.ok ? [] : checked.faults.map(({ pointer, code }) => `${pointer} ${code}`);
    expect(faults).toContain('/examples/0/answers/tyre.cold-pressure/FL/parameter bad-example');
  });
});
