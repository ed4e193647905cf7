import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import type { ParameterOverride } from '../../domain/rules/model/rule-set.ts';
import type { JsonObject } from '../../http/body/json-body.ts';
import { Id } from '../../http/frame/common-schemas.ts';
import { inTransaction } from '../../platform/database/db.ts';
import { checkRules, rulesAsText } from '../../records/judging/rules.ts';
import { assertPublishable } from './publish.ts';
import { Name } from './rule-set-schemas.ts';
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

const Value = z.union([z.number(), z.string(), z.boolean(), z.array(z.string())]);

const ProfileView = z.object({
  name: z.string().describe('`novice`, `intermediate`, `advanced` or `competition`'),
  limits: z
    .array(
      z.object({
        name: z.string().describe('Name of the limit, as run groups override it'),
        meaning: z.string().describe('What it limits'),
        unit: z.string().optional().describe('Unit of both values'),
        builtIn: Value.describe('What the rules say for everybody'),
        value: Value.describe('What this profile says'),
      }),
    )
    .describe('Every limit that a run group of this profile changes'),
});

/** The rules that come with the server. */
export const BuiltInView = z
  .object({
    name: z.string().describe('Its own name'),
    description: z.string().optional().describe('What it is for'),
    rules: z.int().describe('How many rules it has'),
    limits: z.int().describe('How many limits can be changed'),
    profiles: z.array(ProfileView).describe('Ready-made limits for run groups, from the easiest to the strictest'),
  })
  .meta({ id: 'BuiltInRules' });
export type BuiltInView = z.infer<typeof BuiltInView>;

export const AdoptBuiltIn = z.strictObject({ name: Name }).meta({ id: 'AdoptBuiltInRules' });

export const AdoptedView = z
  .object({
    ruleSetId: Id,
    version: z.int().describe('The published version'),
    name: z.string().describe('Name in lists'),
  })
  .meta({ id: 'AdoptedRuleSet' });
export type AdoptedView = z.infer<typeof AdoptedView>;
