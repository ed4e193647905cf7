import { createHash } from 'node:crypto';
import { readFileSync, writeFileSync } from 'node:fs';
import { brotliCompressSync, brotliDecompressSync } from 'node:zlib';
import { expect, test } from 'vitest';
import { changeAnswers, goodAnswers } from '../../../../seed/answers.ts';
import { BUILT_IN_RULE_SET } from '../../../../seed/built-in.ts';
import { CARS } from '../../../../seed/cars.ts';
import { bindValues } from '../../../../src/domain/rules/check/check-parameters.ts';
import { parseAnswers } from '../../../../src/domain/declaration/declaration.ts';
import { findProgram } from '../../../../src/domain/rules/compile/program.ts';
import { compileRuleSet, evaluate, EVALUATOR_VERSION } from '../../../../src/domain/rules/judge/evaluate.ts';
import { codesOf } from '../../../../src/domain/rules/model/codes.ts';
import type { JudgeInput } from '../../../../src/domain/rules/judge/run.ts';
import { RuleSet } from '../../../../src/domain/rules/model/rule-set.ts';

/**
 * SHA-256 of the letters that each version gives the corpus, ours: no source. When this fails, the same rules say something else
 * of the same cars than before: raise `EVALUATOR_VERSION`, and add the new digest here. When the corpus can no longer be read
 * at all, `RECORD_CORPUS=1` makes it anew of the built-in rules of that day; that asks for a new version too.
 */
const CODES_OF_VERSION: Readonly<Record<number, string>> = {
  1: '0f448d0af4fafed6350b5336844942de00617b7b335ff93039fe1720a686e819',
  // says otherwise what clears a finding, which has no letter
  2: '0f448d0af4fafed6350b5336844942de00617b7b335ff93039fe1720a686e819',
  // the same, of what is said not to be there and stands on record; mineral oil has no wet point
  3: '0f448d0af4fafed6350b5336844942de00617b7b335ff93039fe1720a686e819',
};

type Judged = Omit<JudgeInput, 'answers' | 'measured'> & Record<'answers', Raw> & Partial<Record<'measured', Raw>>;
type Raw = Record<string, unknown>;
interface Corpus {
  rules: unknown;
  judged: Judged[];
}

const FILE = new URL('./evaluator-corpus.json.br', import.meta.url);
const DAYS = { startsOn: '2026-06-13', endsOn: '2026-06-14' };
const VENUE = { topSpeedKmh: 230, lapLengthM: 4300, designAirTemperatureC: 28 };

/** What the built-in rules are tried on: a fifth of their own examples, and each kind of car with good, poor, few and no answers. */
function makeCorpus(): Corpus {
  const ruleSet = RuleSet.parse(BUILT_IN_RULE_SET);
  const { examples, ...rules } = ruleSet;
  const same = { venue: VENUE, earlier: [], photos: {}, parameters: {}, concessions: [] };
  const some = examples.filter((_one, at) => at % 5 === 0);
  const ofExamples = some.map((example): Judged => {
    const { vehicle, answers, measured, event, parameters = {}, venue = {}, earlier = [], photos = {} } = example;
    const own = { vehicle, event, venue, parameters, earlier, photos, stage: example.stage ?? 'declaration' };
    const bound = (raw: Record<string, unknown>) => bindValues(raw, ruleSet, parameters);
    return { ...same, ...own, answers: bound(answers), ...(measured && { measured: bound(measured) }) };
  });
  const ofCars = Object.values(CARS).flatMap((vehicle) => {
    const good = goodAnswers(vehicle, DAYS.startsOn);
    const poor = changeAnswers(good, { 'pad.thickness@*': 2, 'brake.pedal': 'spongy', 'oil.grade': null }, vehicle);
    const few = Object.fromEntries(Object.entries(good).filter((_one, at) => at % 3 === 0));
    const unconfirmed = ['massKg', 'driveLayout'];
    return [good, poor, few, {}].flatMap((answers): Judged[] => [
      { ...same, vehicle, answers, event: DAYS, stage: 'declaration' },
      { ...same, vehicle, answers, event: DAYS, stage: 'line', unconfirmed },
    ]);
  });
  return { rules: { ...rules, examples: [] }, judged: [...ofExamples, ...ofCars] };
}

test('the same rules say the same of the same cars as long as the version of the evaluator stays', () => {
  if (process.env['RECORD_CORPUS'] === '1') writeFileSync(FILE, brotliCompressSync(JSON.stringify(makeCorpus())));
  const corpus = JSON.parse(brotliDecompressSync(readFileSync(FILE)).toString('utf8')) as Corpus;
  const compiled = compileRuleSet(RuleSet.parse(corpus.rules));
  const read = (raw: Raw) => {
    const parsed = parseAnswers(raw);
    return parsed.ok ? parsed.answers : undefined;
  };
  const letters = corpus.judged.map(({ answers: given, measured, ...input }) => {
    const [answers, found] = [read(given), read(measured ?? {})];
    if (answers === undefined || found === undefined) return 'unreadable';
    const whole = { ...input, answers, ...(measured && { measured: found }) };
    return codesOf(findProgram(compiled, whole).heads, evaluate(compiled, whole).findings);
  });
  expect(letters.length).toBeGreaterThan(100);
  expect(letters).not.toContain('unreadable');
  // every letter is tried somewhere, so that the digest says something about each result
  expect(new Set(letters.join('')).size).toBeGreaterThan(5);
  const digest = createHash('sha256').update(letters.join('\n')).digest('hex');
  expect(digest).toBe(CODES_OF_VERSION[EVALUATOR_VERSION]);
});
