import { type CompiledRuleSet, compileRuleSet } from '../domain/rules/evaluate.ts';
import { RuleSet } from '../domain/rules/rule-set.ts';
import type { Tx } from '../platform/db.ts';

const KEPT = 50;
const cache = new Map<string, CompiledRuleSet>();

/**
 * The compiled form of a published version. Versions never change, so each is parsed and compiled once per process;
 * the least recently used go when there are more than 50.
 *
 * @throws when the version does not exist: a foreign key keeps run groups and inspections from naming one
 */
export async function getCompiledVersion(db: Tx, ruleSetId: string, version: number): Promise<CompiledRuleSet> {
  const key = `${ruleSetId}@${version}`;
  const known = cache.get(key);
  if (known !== undefined) {
    cache.delete(key);
    cache.set(key, known);
    return known;
  }
  const row = await db.ruleSetVersion.findUniqueOrThrow({ where: { ruleSetId_version: { ruleSetId, version } } });
  const compiled = compileRuleSet(RuleSet.parse(row.document));
  cache.set(key, compiled);
  const oldest = cache.keys().next().value;
  if (cache.size > KEPT && oldest !== undefined) cache.delete(oldest);
  return compiled;
}
