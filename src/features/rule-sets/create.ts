import type { Deps } from '../../deps.ts';
import { readYamlDraft } from './read-draft.ts';
import type { CreateRuleSet } from './schemas.ts';
import { insertRuleSet, type StoredRuleSet } from './store.ts';

/**
 * Stores a draft. It may have faults: people save work that is not done.
 *
 * @param input JSON, or the text of a YAML document, which is kept as it is written
 * @throws ProblemError `malformed-yaml`, `invalid-request`
 */
export async function createRuleSet(deps: Deps, input: CreateRuleSet | string): Promise<StoredRuleSet> {
  if (typeof input === 'string') return insertRuleSet(deps.db.prisma, await readYamlDraft(input));
  const { name, document } = input;
  return insertRuleSet(deps.db.prisma, {
    name,
    document: document ?? { name, parameters: {}, rules: [], examples: [] },
  });
}
