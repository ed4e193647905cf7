import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import type { ParameterOverride } from '../../domain/rules/model/rule-set.ts';
import type { JsonObject } from '../../http/body/json-object.ts';
import { inTransaction } from '../../platform/database/db.ts';
import { checkRules, rulesAsText } from '../../records/judging/rule-check.ts';
import type { AdoptedView, BuiltInView } from './built-in-schemas.ts';
import { assertPublishable } from './publish.ts';
import { findSameSet, insertRuleSet, insertVersion } from './rule-set-store.ts';

const FIRST_VERSION = 'The rules that came with the server, as they came.';

interface Document extends JsonObject {
  name: string;
  description?: string;
  parameters: Record<string, Limit>;
  rules: unknown[];
}
type Limit = { value: ParameterOverride['value']; unit?: string; meaning: string };

/** Read when somebody asks for it: it is the largest document there is, and most requests never need it. */
async function load(): Promise<{ document: Document; profiles: Readonly<Record<string, Profile>> }> {
  const { BUILT_IN_RULE_SET, PROFILES } = await import('../../../seed/built-in.ts');
  // Made and checked by our own build (`npm run rules:make`).
  return { document: BUILT_IN_RULE_SET as Document, profiles: PROFILES };
}
type Profile = Readonly<Record<string, ParameterOverride>>;

/** What comes with the server: how many rules, and the profiles of run groups with each limit that they change. */
export async function readBuiltIn(): Promise<BuiltInView> {
  const { document, profiles } = await load();
  const { name, description, rules, parameters } = document;
  return {
    name,
    ...(description === undefined ? {} : { description }),
    rules: rules.length,
    limits: Object.keys(parameters).length,
    profiles: Object.entries(profiles).map(([profile, changed]) => ({
      name: profile,
      limits: Object.entries(changed).map(([limit, { value, unit }]) => ({
        name: limit,
        meaning: parameters[limit]?.meaning ?? limit,
        value,
        builtIn: parameters[limit]?.value ?? value,
        ...unitOf(unit ?? parameters[limit]?.unit),
      })),
    })),
  };
}

const unitOf = (unit: string | undefined) => (unit === undefined ? {} : { unit });

/**
 * Takes the rules that come with the server over as a rule set of the organizer's own, published as its first version.
 * To adopt them again under the same name changes nothing and answers with the set that is there.
 *
 * @throws ProblemError those of `checkRules`
 */
export async function adoptBuiltIn(deps: Deps, actor: Actor, name: string): Promise<AdoptedView & { made: boolean }> {
  const { document: builtIn } = await load();
  const document: JsonObject = { ...builtIn, name };
  const contentHash = assertPublishable(await checkRules(deps, actor, rulesAsText({ document })));
  return inTransaction(deps.db.prisma, async (tx) => {
    const known = await findSameSet(tx, name, contentHash);
    if (known !== undefined) return { ...known, name, made: false };
    const { ruleSetId } = await insertRuleSet(tx, { name, document });
    const row = { ruleSetId, version: 1, document, contentHash, publishedAt: deps.clock.now() };
    const { version } = await insertVersion(tx, actor, { ...row, changelog: FIRST_VERSION });
    return { ruleSetId, version, name, made: true };
  });
}
