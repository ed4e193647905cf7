import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { readDraft } from './read-draft.ts';
import type { CreateRuleSet } from './schemas.ts';
import { insertRuleSet } from './store.ts';
import type { CheckedRuleSet } from './view.ts';

/**
 * Stores a draft. It may have faults: people save work that is not done.
 *
 * @param input JSON, or the text of a YAML document, which is kept as it is written
 * @throws ProblemError `malformed-yaml`, `invalid-request`, those of `checkRules`
 */
export async function createRuleSet(deps: Deps, actor: Actor, input: CreateRuleSet | string): Promise<CheckedRuleSet> {
  const { draft, check } = await readDraft(deps, actor, input);
  return { ...(await insertRuleSet(deps.db.prisma, draft)), check };
}
