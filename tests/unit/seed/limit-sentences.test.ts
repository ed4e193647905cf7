import { describe, expect, it } from 'vitest';
import { goodAnswers } from '../../../seed/answers.ts';
import { BUILT_IN_RULE_SET, PROFILE_NAMES, PROFILES, type ProfileName } from '../../../seed/built-in.ts';
import { type CarKind, CARS, carOf } from '../../../seed/cars.ts';
import { CATALOGUE } from '../../../src/domain/catalogue/catalogue.ts';
import { type Answers, parseAnswers } from '../../../src/domain/declaration/declaration.ts';
import { convert, roundTo, type Unit } from '../../../src/domain/quantity.ts';
import { compileRuleSet, evaluate } from '../../../src/domain/rules/judge/evaluate.ts';
import type { JudgeInput } from '../../../src/domain/rules/judge/run.ts';
import { RuleSet } from '../../../src/domain/rules/model/rule-set.ts';
import { type Says, sayLimits } from '../../../src/domain/rules/says/says.ts';
import { roundInside, type SaysValue } from '../../../src/domain/rules/says/sentence.ts';
import type { Vehicle } from '../../../src/domain/vehicle.ts';
import { convertShown, shownUnit } from '../../../src/web/shared/units.ts';
import { doubleDenials, readingGrade } from '../../support/reading-grade.ts';

const ruleSet = RuleSet.parse(BUILT_IN_RULE_SET);
const compiled = compileRuleSet(ruleSet);
const EVENT = { startsOn: '2026-11-29', endsOn: '2026-11-30' };
const VENUE = { topSpeedKmh: 224, soundLimitDb: 98, soundDistanceM: 15 };
const LANGUAGES = ['en', 'de'] as const;

function inputOf(vehicle: Vehicle, profile: ProfileName, answers: Answers = new Map()): JudgeInput {
  return {
    answers,
    vehicle,
    event: EVENT,
    venue: VENUE,
    parameters: PROFILES[profile],
    concessions: [],
    stage: 'declaration',
  };
}

function answersOf(vehicle: Vehicle): Answers {
  const parsed = parseAnswers(goodAnswers(vehicle, EVENT.startsOn));
  if (!parsed.ok) throw new Error('good answers do not parse');
  return parsed.answers;
}

const KINDS = Object.keys(CARS) as CarKind[];

interface Said {
  language: (typeof LANGUAGES)[number];
  ruleId: string;
  where: string;
  says: Says;
}

/** Every sentence of every rule, for each kind of car, group and language, before and after answers. */
function everySentence(): Said[] {
  const all = new Map<string, Said>();
  for (const kind of KINDS) {
    const vehicle = carOf(kind);
    for (const profile of PROFILE_NAMES) {
      for (const answers of [new Map() as Answers, answersOf(vehicle)]) {
        for (const language of LANGUAGES) {
          for (const [place, says] of sayLimits(compiled, inputOf(vehicle, profile, answers), language)) {
            const [ruleId = ''] = place.split('@');
            const where = `${ruleId} ${language} ${kind} ${profile}`;
            all.set(`${language} ${ruleId} ${says.text}`, { language, ruleId, where, says });
          }
        }
      }
    }
  }
  return [...all.values()];
}

const said = everySentence();
const failing = (isBad: (one: Said) => boolean): string[] =>
  said.filter(isBad).map(({ where, says }) => `${where}: ${says.text}`);
const textOf = (profile: ProfileName, rule: string, language = 'en', kind: CarKind = 'coupe'): string | undefined =>
  sayLimits(compiled, inputOf(carOf(kind), profile), language).get(rule)?.text;

describe('the limit of each rule as one sentence', () => {
  it.each(LANGUAGES)('there is one for every rule: %s', (language) => {
    const told = new Set(said.filter((one) => one.language === language).map(({ ruleId }) => ruleId));
    expect(ruleSet.rules.map(({ id }) => id).filter((id) => !told.has(id))).toEqual([]);
  });

  it('has the values of the group in it', () => {
    // common practice, no source: pads of 4 mm for novices and 5 mm for the next group
    expect(textOf('novice', 'pad-thickness@FL.in')).toBe('4 mm or more, metal plate not counted.');
    expect(textOf('intermediate', 'pad-thickness@FL.in')).toBe('5 mm or more, metal plate not counted.');
    // a tenth of 110 N·m: service manuals give 90 to 110 for 100
    expect(textOf('novice', 'wheel-torque-setting')).toBe('Set it to 110 N·m; 99 to 121 is accepted.');
    expect(textOf('novice', 'wheel-torque-setting', 'de')).toBe('Stell ihn auf 110 N·m; 99 bis 121 ist erlaubt.');
    expect(textOf('novice', 'tyre-tread-lowest@FL', 'de')).toContain('1,6 mm');
    expect(textOf('novice', 'oil-age')).toBe('Oil changed on 30 November 2025 or later.');
    expect(textOf('novice', 'floor-mats-out')).toBe('Floor mats are out.');
  });

  it('says what to do first where the car’s record lacks what it is compared with', () => {
    const { wheelNutTorqueNm: _, ...bare } = carOf('coupe');
    const says = sayLimits(compiled, inputOf(bare, 'novice'), 'en').get('wheel-torque-setting');
    expect(says).toMatchObject({ text: "Type the maker's torque from your handbook first.", isOpen: true });
  });

  it('is at most 14 words long', () => {
    expect(failing(({ says }) => says.text.split(/\s+/).length > 14)).toEqual([]);
  });

  it('is plain: no "at most" for a deviation, no ": yes", no key, name of an option, code or ISO date', () => {
    const keys = CATALOGUE.map(({ key }) => key);
    const names = Object.keys(ruleSet.parameters);
    const raw =
      /: (yes|no|ja|nein)\b|\d{4}-\d\d-\d\d|[{}_≥≤]|\b[a-z]+[A-Z]|\b[a-z]+-[a-z]+-[a-z]+\b|\bundefined\b|\bNaN\b/;
    expect(failing(({ says }) => raw.test(says.text.replaceAll(/N·m|kPa|km\/h|dB\(A\)/g, '')))).toEqual([]);
    expect(failing(({ says }) => keys.some((key) => says.text.includes(key)))).toEqual([]);
    expect(failing(({ says }) => names.some((name) => says.text.includes(name)))).toEqual([]);
    const deviations = new Set(
      ruleSet.rules.flatMap(({ id, test }) => (test.kind === 'expression' && test.expr.includes('abs(') ? [id] : [])),
    );
    expect(deviations.size).toBeGreaterThan(5);
    expect(failing(({ ruleId, says }) => deviations.has(ruleId) && /\bat most\b|höchstens/.test(says.text))).toEqual(
      [],
    );
  });

  it('denies once at most in each part', () => {
    expect(failing(({ says, language }) => doubleDenials(says.text, language).length > 0)).toEqual([]);
  });

  it('is of reading grade 8 or less', () => {
    // names that have no simpler word
    const name = (text: string) =>
      text.replaceAll(/\b(aluminium|silicone|mineral|November|December|January)\b/gi, 'name');
    expect(failing(({ says, language }) => language === 'en' && readingGrade(name(says.text)) > 8)).toEqual([]);
  });
});

const dayBefore = (day: string): string =>
  new Date(Date.parse(`${day}T00:00:00Z`) - 86_400_000).toISOString().slice(0, 10);

type Chosen = Record<'length' | 'temperature' | 'pressure' | 'torque', Unit>;
const METRIC: Chosen = { length: 'mm', temperature: '°C', pressure: 'kPa', torque: 'N·m' };
const UNITS: Chosen[] = [
  METRIC,
  { ...METRIC, pressure: 'bar' },
  { length: '1/32in', temperature: '°F', pressure: 'psi', torque: 'lbf·ft' },
];

/** What a reader of these units sees, read back as the item keeps it. */
function readBack(value: Extract<SaysValue, { value: number }>, chosen: Chosen): number {
  const decimals = value.decimals ?? 3;
  const kept = roundInside(value.value, value.inside, value.decimals);
  const to = shownUnit(value.unit, kept, chosen);
  const shown = convertShown(kept, value.unit, to, { decimals });
  return roundTo(convert(shown, to, value.unit) ?? Number.NaN, decimals);
}

describe('the limit that is shown', () => {
  it.each(UNITS)('is never looser than the one that is judged: $length, $pressure', (chosen) => {
    const numbers = said.flatMap(({ where, says }) =>
      Object.values(says.values).flatMap((value) => ('value' in value ? [{ where, value }] : [])),
    );
    expect(numbers.length).toBeGreaterThan(100);
    const looser = numbers.filter(({ value }) => {
      const back = readBack(value, chosen);
      const limit = roundTo(value.value, value.decimals ?? 9);
      return value.inside === 'above' ? back < limit : value.inside === 'below' ? back > limit : false;
    });
    expect(looser.map(({ where, value }) => `${where} ${JSON.stringify(value)}`)).toEqual([]);
  });

  // a date that is shown is judged met, the day before is not
  const AGES = ruleSet.rules.flatMap(({ id, test }) =>
    test.kind === 'age' || test.kind === 'valid-through' ? [{ id, key: test.item, field: test.field }] : [],
  );
  it('of a date is the first day that is met', () => {
    const judged = new Set<string>();
    for (const kind of KINDS) {
      const vehicle = carOf(kind);
      const answers = answersOf(vehicle);
      for (const profile of ['novice', 'competition'] as const) {
        const sentences = sayLimits(compiled, inputOf(vehicle, profile, answers), 'en');
        for (const { id, key, field } of AGES) {
          const { day } = sentences.get(id)?.values ?? {};
          if (day === undefined || !('day' in day) || judged.has(`${id} ${profile}`)) continue;
          const cell = field === undefined ? key : `${key}#${field}`;
          const results = [day.day, dayBefore(day.day)].map((date) => {
            const input = inputOf(vehicle, profile, new Map([...answers, [cell, date]]));
            return evaluate(compiled, input).findings.find(({ ruleId }) => ruleId === id)?.result;
          });
          if (results[0] === undefined) continue;
          judged.add(`${id} ${profile}`);
          expect(results, `${id} ${kind} ${profile} ${day.day}`).toEqual(['met', 'not-met']);
        }
      }
    }
    expect(judged.size).toBeGreaterThan(20);
  });
});
