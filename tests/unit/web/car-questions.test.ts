import { describe, expect, test } from 'vitest';
import { VEHICLE_FIELDS } from '../../../src/domain/rules/model/vehicle-fields.ts';
import { CATALOGUE } from '../../../src/domain/catalogue/catalogue.ts';
import { DECIDING } from '../../../src/web/garage/screens/plan.ts';
import { askedIn, countIn, type Facts, SECTIONS, togetherIn } from '../../../src/web/car/questions.ts';
import de from '../../../src/web/car/text/de.json' with { type: 'json' };
import en from '../../../src/web/car/text/en.json' with { type: 'json' };

const QUESTIONS = SECTIONS.flatMap(({ questions }) => questions);
const fieldsOf = (facts: Facts) =>
  SECTIONS.flatMap((section) => askedIn(section, facts)).flatMap(({ paths }) => [...paths]);

describe('the questions about a car', () => {
  test('are about every fact of the record but set-up, with its places and its options', () => {
    const wanted = VEHICLE_FIELDS.filter(({ path }) => path[0] !== 'baseline');
    const inRecord = wanted.map(({ path, scheme, type }) => {
      const options = 'options' in type ? type.options.map(String) : [];
      return [path.join('.'), scheme ?? 'car', options.toSorted()];
    });
    const asked = QUESTIONS.map(({ field, places, answer }) => {
      const options = answer.kind === 'choice' ? answer.options.map(String) : [];
      return [field, places === 'wheels' ? 'wheel' : (places ?? 'car'), options.toSorted()];
    });
    expect(asked.toSorted()).toEqual(inRecord.toSorted());
  });

  test.each(Object.entries({ en, de }))('have all their words in %s', (_language, texts: Record<string, string>) => {
    for (const { id } of SECTIONS) expect(texts[`s.${id}`], id).toBeTruthy();
    for (const { field, answer } of QUESTIONS) {
      expect(texts[`q.${field}`], field).toBeTruthy();
      const options = answer.kind === 'choice' ? answer.options : [];
      for (const option of options) expect(texts[`o.${field}.${option}`], `${field} ${option}`).toBeTruthy();
    }
  });

  test('that decide what else is asked are all counted before the walk', () => {
    const decidedBy: Record<string, string> = {
      caliper: 'rotor.front',
      brake: 'rotor.front',
      rotor: 'rotor.front',
      bushing: 'bushing.front-lower-arm',
      rebuildableDampers: 'damper.rebuildable',
      clutchHydraulic: 'hydraulicClutch',
    };
    const conditions = new Set(CATALOGUE.flatMap(({ appliesWhen = {} }) => Object.keys(appliesWhen)));
    expect(conditions.size).toBeGreaterThan(10);
    for (const one of conditions) expect(DECIDING).toContain(decidedBy[one] ?? one);
    for (const path of DECIDING) expect(fieldsOf({ powertrain: 'combustion' }), path).toContain(path);
  });

  test('are answered for all bushings at once by one that counts nothing itself', () => {
    const bushings = SECTIONS.filter(({ id }) => id === 'bushings');
    const [section] = bushings;
    expect(bushings).toHaveLength(1);
    if (section === undefined) return;
    const [all] = togetherIn(section);
    expect(all?.paths).toEqual(askedIn(section, {}).flatMap(({ paths }) => paths));
    const facts = Object.fromEntries((all?.paths ?? []).map((path) => [path, 'rubber']));
    expect(countIn(section, facts)).toEqual({ given: 8, asked: 8 });
    expect(SECTIONS.flatMap(togetherIn)).toHaveLength(1);
  });

  test('follow what the car has', () => {
    const bare = fieldsOf({});
    expect(bare).not.toContain('drumMaximumDiameterMm.RL');
    expect(bare).not.toContain('harnessPoints');
    expect(bare).not.toContain('highVoltageV');
    const facts = { 'rotor.front': 'iron', 'rotor.rear': 'drum', restraint: 'harness', powertrain: 'hybrid' };
    const asked = fieldsOf(facts);
    expect(asked).toContain('rotorMinimumThicknessMm.FL');
    expect(asked).not.toContain('rotorMinimumThicknessMm.RL');
    expect(asked).toEqual(expect.arrayContaining(['drumMaximumDiameterMm.RL', 'harnessPoints', 'highVoltageV']));
  });
});
