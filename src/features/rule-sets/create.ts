import type { Deps } from '../../deps.ts';
import type { CreateRuleSet } from './schemas.ts';
import { insertRuleSet, type StoredRuleSet } from './store.ts';

/** Stores a draft. It may have faults: people save work that is not done. */
export async function createRuleSet(deps: Deps, { name, document }: CreateRuleSet): Promise<StoredRuleSet> {
  return insertRuleSet(deps.db.prisma, name, document ?? { name, parameters: {}, rules: [], examples: [] });
}
