import { readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { pathToFileURL } from 'node:url';
import { AREAS } from '../src/domain/catalogue/item.ts';
import { RuleSet } from '../src/domain/rules/model/rule-set.ts';
import { makeExamples } from './make-examples.ts';

const readJson = (path: string): unknown => JSON.parse(readFileSync(path, 'utf8'));

/**
 * Puts the built-in rule set together from its parts: head, parameters, the rules of each area in the order of the walk,
 * and the examples made of them.
 *
 * @param folder `seed/built-in`
 */
export function makeRuleSet(folder: string): RuleSet {
  const named = new Set(readdirSync(`${folder}/rules`));
  const rules = AREAS.flatMap((area) => {
    if (!named.delete(`${area}.json`)) return [];
    return readJson(`${folder}/rules/${area}.json`);
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
