import { describe, expect, it, test } from 'vitest';
import { BUILT_IN_RULE_SET, PROFILE_NAMES, PROFILES } from '../../../../seed/built-in.ts';
import { type CarKind, CARS, carOf } from '../../../../seed/cars.ts';
import { CAR_FACT_ITEMS } from '../../../../src/domain/car/fact-table.ts';
import { CATALOGUE } from '../../../../src/domain/catalogue/catalogue.ts';
import type { Item } from '../../../../src/domain/catalogue/item.ts';
import { CATALOGUE_TEXTS, itemTexts, optionName, positionName } from '../../../../src/domain/catalogue/texts.ts';
import { pickLanguage } from '../../../../src/domain/language.ts';
import { compileRuleSet, evaluate } from '../../../../src/domain/rules/judge/evaluate.ts';
import type { JudgeInput } from '../../../../src/domain/rules/judge/run.ts';
import { RuleSet } from '../../../../src/domain/rules/model/rule-set.ts';
import { findingsIn, languagesOf, messageIn } from '../../../../src/domain/rules/says/rule-words.ts';
import { sayLimits } from '../../../../src/domain/rules/says/says.ts';
import { readingGrade } from '../../../support/reading-grade.ts';

const ruleSet = RuleSet.parse(BUILT_IN_RULE_SET);
const EVENT = { startsOn: '2026-11-29', endsOn: '2026-11-30' };
const inputOf = (kind: CarKind, parameters: JudgeInput['parameters'] = {}): JudgeInput => ({
  answers: new Map(),
  vehicle: carOf(kind),
  event: EVENT,
  venue: {},
  parameters,
  concessions: [],
  stage: 'declaration',
});

test('the language is the one asked for by the best of what is spoken, else the first', () => {
  // RFC 9110, section 12.5.4: "da, en-gb;q=0.8, en;q=0.7"
  expect(pickLanguage(undefined, 'da, en-gb;q=0.8, en;q=0.7', ['de', 'en'])).toBe('en');
  expect(pickLanguage(undefined, 'en;q=0.2, de-CH', ['en', 'de'])).toBe('de');
  expect(pickLanguage(undefined, 'de;q=0', ['en', 'de'])).toBe('en');
  expect(pickLanguage('de', 'en', ['en', 'de'])).toBe('de');
  expect(pickLanguage(undefined, undefined, ['en', 'de'])).toBe('en');
});

describe('German', () => {
  const items: readonly Item[] = [...CATALOGUE, ...CAR_FACT_ITEMS];

  it('has title, message, fix and limit of every rule, and the points that are always looked at', () => {
    const lacking = ruleSet.rules.filter(({ texts, says }) => {
      const { title, message, fix, says: said, without } = texts?.['de'] ?? {};
      return !title || !message || !fix || !said || (says?.without !== undefined && !without);
    });
    expect(lacking.map(({ id }) => id)).toEqual([]);
    expect(ruleSet.alwaysLook?.filter(({ texts }) => !texts?.['de'])).toEqual([]);
    const same = ruleSet.rules.filter(({ message, texts }) => texts?.['de']?.message === message);
    expect(same.map(({ id }) => id)).toEqual([]);
  });

  it('has label, help, parts and option names of every item of the catalogue', () => {
    const { de } = CATALOGUE_TEXTS;
    const parts = items.flatMap(({ key, answer }) =>
      answer.kind === 'fields' ? Object.keys(answer.fields).map((field) => [key, field] as const) : [],
    );
    expect(items.filter(({ key }) => !de?.items[key]?.label || !de.items[key]?.help).map(({ key }) => key)).toEqual([]);
    expect(parts.filter(([key, field]) => !de?.items[key]?.fields?.[field])).toEqual([]);
    for (const language of ['en', 'de']) {
      const bare = items.flatMap((item) => {
        const types =
          item.answer.kind === 'fields'
            ? Object.entries(item.answer.fields).map(([field, { type }]) => [field, type] as const)
            : [[undefined, item.answer] as const];
        return types.flatMap(([field, type]) =>
          type.kind === 'choice' || type.kind === 'choices'
            ? type.options.filter(
                (option) => /^[a-z-]+$/.test(option) && optionName(item, field, option, language) === option,
              )
            : [],
        );
      });
      expect(bare, language).toEqual([]);
    }
    expect(positionName('FL.in', 'de')).toBe('vorne links, innerer Belag');
  });

  it('is what the engine says of everything that is missing, on every kind of car in every group', () => {
    const compiled = compileRuleSet(ruleSet);
    const left = new Set<string>();
    for (const kind of Object.keys(CARS) as CarKind[]) {
      for (const profile of PROFILE_NAMES) {
        const { findings } = evaluate(compiled, inputOf(kind, PROFILES[profile]));
        for (const { message, ruleId } of findingsIn(findings, ruleSet, 'de')) {
          if (/\b(No answer|the|has no|not measured)\b/i.test(message)) left.add(`${ruleId}: ${message}`);
        }
      }
    }
    expect([...left]).toEqual([]);
    expect(messageIn('No answer for "Friction material thickness" at FL.in', 'de')).toBe(
      'Keine Antwort auf „Dicke des Reibbelags“, vorne links, innerer Belag',
    );
    expect(messageIn('The organizer wrote this himself', 'de')).toBe('The organizer wrote this himself');
  });
});

// the median grade of the help texts was measured at 3.1
test('every limit of the built-in rules says in German what it limits', () => {
  const meanings = Object.values(ruleSet.parameters).map(({ meaning }) => meaning);
  expect(meanings.length).toBeGreaterThan(120);
  expect(meanings.filter((meaning) => messageIn(meaning, 'de') === meaning)).toEqual([]);
});

test('what a forecast rests on, and what came of an entry of the log, are said in German', () => {
  const says = [
    '9.4 mm at the acceptance, 2026-05-02: 0 days driven',
    '8.8 mm written down between sessions, 2026-06-13, after 2, new pads: 1.5 days driven',
    '8.1 mm now, 2026-06-14: 2 days driven',
    '1 days to come',
    'The car is stopped: After a session: smell of fuel. Do not drive it before the cause is found and put right. Only the staff lifts this.',
    'Still open: Re-check wheel torque after the first session, wheels cooled. The maker asks for 110 N·m, give or take 11.',
  ];
  expect(says.map((one) => messageIn(one, 'de'))).toEqual([
    '9.4 mm bei der Abnahme, 2026-05-02: 0 Tage gefahren',
    '8.8 mm zwischen den Fahrten notiert, 2026-06-13, nach Fahrt 2, neue Beläge: 1.5 Tage gefahren',
    '8.1 mm jetzt, 2026-06-14: 2 Tage gefahren',
    'noch 1 Tage zu fahren',
    'Das Auto ist gestoppt. Fahr nicht, bevor die Ursache gefunden und behoben ist. Nur das Personal hebt das auf.',
    'Noch offen: Drehmoment der Räder nach der ersten Fahrt nachprüfen, Räder abgekühlt. Der Hersteller verlangt 110 N·m, plus oder minus 11.',
  ]);
});

test('help and fixes are of reading grade 8 or less, taken as a whole', () => {
  const help = CATALOGUE.map((item) => itemTexts(item, 'en').help);
  const fixes = ruleSet.rules.map(({ fix }) => fix);
  expect(readingGrade(help.join(' '))).toBeLessThanOrEqual(8);
  expect(readingGrade(fixes.join(' '))).toBeLessThanOrEqual(8);
});

test('a third language is data only: what it has is said in it, the rest in the language of the rules', () => {
  const french = RuleSet.parse({
    ...ruleSet,
    rules: ruleSet.rules.map((rule) =>
      rule.id === 'pad-thickness'
        ? {
            ...rule,
            texts: { ...rule.texts, fr: { message: 'La garniture est trop mince.', says: '{limit} ou plus.' } },
          }
        : rule,
    ),
  });
  expect(languagesOf(french)).toEqual(['en', 'de', 'fr']);
  const compiled = compileRuleSet(french);
  const input = { ...inputOf('coupe'), answers: new Map([['pad.thickness@FL.in', 2]]) };
  expect(sayLimits(compiled, input, 'fr').get('pad-thickness@FL.in')?.text).toBe('5 mm ou plus.');
  const finding = findingsIn(evaluate(compiled, input).findings, french, 'fr').find(
    ({ ruleId, position }) => ruleId === 'pad-thickness' && position === 'FL.in',
  );
  expect(finding?.message).toBe('La garniture est trop mince.');
  expect(finding?.title).toBe('Brake pad thickness for this group');
  expect(optionName(CATALOGUE.find(({ key }) => key === 'brake.pedal') as Item, undefined, 'firm', 'fr')).toBe('Firm');
});
