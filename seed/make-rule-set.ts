import { existsSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { pathToFileURL } from 'node:url';
import { AREAS } from '../src/domain/catalogue/item.ts';
import { RuleSet } from '../src/domain/rules/model/rule-set.ts';
import { makeExamples } from './make-examples.ts';

const readJson = (path: string): unknown => JSON.parse(readFileSync(path, 'utf8'));

/** The language that the built-in rules are written in. */
const OWN_LANGUAGE = 'en';

/** Texts of one language by rule id; the folders below `text` are languages, with a file per area. */
function readTexts(folder: string, language: string, area: string): Readonly<Record<string, object>> {
  const path = `${folder}/text/${language}/${area}.json`;
  return existsSync(path) ? (readJson(path) as Readonly<Record<string, object>>) : {};
}

/** A rule with its limit as a sentence, and its texts in the languages that are not that of the set. */
function withTexts(rule: { id: string }, area: string, folder: string): object {
  const says = readTexts(folder, OWN_LANGUAGE, area)[rule.id];
  const others = readdirSync(`${folder}/text`).filter((language) => language !== OWN_LANGUAGE);
  const texts = others.flatMap((language) => {
    const said = readTexts(folder, language, area)[rule.id];
    return said === undefined ? [] : [[language, said] as const];
  });
  return { ...rule, ...(says && { says }), ...(texts.length > 0 && { texts: Object.fromEntries(texts) }) };
}

/**
 * Puts the built-in rule set together from its parts: head, parameters, the rules of each area in the order of the walk
 * with their texts in all languages, and the examples made of them.
 *
 * @param folder `seed/built-in`
 */
export function makeRuleSet(folder: string): RuleSet {
  const named = new Set(readdirSync(`${folder}/rules`));
  const rules = AREAS.flatMap((area) => {
    if (!named.delete(`${area}.json`)) return [];
    const rules = readJson(`${folder}/rules/${area}.json`) as readonly { id: string }[];
    return rules.map((rule) => withTexts(rule, area, folder));
  });
  if (named.size > 0) throw new Error(`no area of the catalogue: ${[...named].join(', ')}`);
  const head = readJson(`${folder}/head.json`) as object;
  const parameters = readJson(`${folder}/parameters.json`);
  const ruleSet = RuleSet.parse({ ...head, parameters, rules, examples: [] });
  return { ...ruleSet, examples: makeExamples(ruleSet) };
}

/** `npm run rules:make` writes the whole document anew. */
function main(): void {
  const made = makeRuleSet('seed/built-in');
  writeFileSync('seed/built-in-rule-set.json', `${JSON.stringify(made)}\n`);
  process.stdout.write(`${made.rules.length} rules, ${made.examples.length} examples\n`);
}

const [, script] = process.argv;
if (script !== undefined && import.meta.url === pathToFileURL(script).href) main();
