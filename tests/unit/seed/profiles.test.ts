import { describe, expect, it } from 'vitest';
import { BUILT_IN_RULE_SET, PROFILE_NAMES, PROFILES, type ProfileName } from '../../../seed/built-in.ts';
import { checkOverrides } from '../../../src/domain/rules/check/check.ts';
import { RuleSet } from '../../../src/domain/rules/model/rule-set.ts';

const ruleSet = RuleSet.parse(BUILT_IN_RULE_SET);
const numberOf = (profile: ProfileName, name: string): number => Number(PROFILES[profile][name]?.value);

describe('the profiles', () => {
  it.each(PROFILE_NAMES)('%s overrides parameters of the rule set only, in their kinds and units', (name) => {
    expect(checkOverrides(ruleSet, PROFILES[name])).toEqual([]);
  });

  it('all name the same parameters, so that they can be read side by side', () => {
    const named = PROFILE_NAMES.map((name) => Object.keys(PROFILES[name]));
    expect(new Set(named.map((names) => names.join())).size).toBe(1);
  });

  // common practice, no source: pads of 4, 5 and 6 mm; fluid of 12 months for novices, 6 for others
  it('ask for more from group to group', () => {
    expect(PROFILE_NAMES.map((name) => numberOf(name, 'padThicknessMinimum'))).toEqual([4, 5, 6, 6]);
    expect(PROFILE_NAMES.map((name) => numberOf(name, 'brakeFluidAgeMaximum'))).toEqual([12, 6, 6, 3]);
    const rising = [
      'padTemperatureMinimum',
      'oilHotGradeMinimum',
      'brakeFluidMargin',
      'brakeFluidWetMinimum',
      'brakeFluidDryMinimum',
      'brakeFluidMeasuredMinimum',
    ];
    for (const name of rising) {
      const values = PROFILE_NAMES.map((profile) => numberOf(profile, name));
      expect(values, name).toEqual([...values].sort((a, b) => a - b));
    }
  });

  it('never accept for the next group what an easier one refuses', () => {
    const lists = Object.entries(PROFILES.novice).filter(([, { value }]) => Array.isArray(value));
    const accepted = lists.map(([name]) => name).filter((name) => name !== 'alwaysLookPoints');
    expect(accepted).toEqual([
      'helmetsAccepted',
      'clothingAccepted',
      'harnessStandardsAccepted',
      'seatStandardsAccepted',
    ]);
    for (const name of accepted) {
      for (const [index, profile] of PROFILE_NAMES.slice(1).entries()) {
        const easier = PROFILES[PROFILE_NAMES[index] ?? 'novice'][name]?.value;
        const value = PROFILES[profile][name]?.value;
        expect(Array.isArray(easier) && Array.isArray(value), name).toBe(true);
        if (Array.isArray(easier) && Array.isArray(value)) expect(easier, name).toEqual(expect.arrayContaining(value));
      }
    }
  });

  it('name five to nine points that are looked at on every car, more from group to group, for novices in two minutes', () => {
    const { alwaysLook = [] } = RuleSet.parse(BUILT_IN_RULE_SET);
    const named = PROFILE_NAMES.map((name) => PROFILES[name]['alwaysLookPoints']?.value);
    const points = named.map((ids) => alwaysLook.filter(({ id }) => Array.isArray(ids) && ids.includes(id)));
    expect(points.map((of) => of.length)).toEqual([7, 7, 9, 9]);
    expect(points[0]?.reduce((sum, { seconds }) => sum + seconds, 0)).toBeLessThanOrEqual(120);
    // wheels stay on and the car on its wheels for novices
    expect(points[0]?.map(({ id }) => id)).not.toContain('play-lifted');
  });
});
