import { createHash } from 'node:crypto';
import type { Actor } from '../../domain/actor.ts';
import { type CompiledRuleSet, compileRuleSet } from '../../domain/rules/judge/evaluate.ts';
import { type ParameterOverride, RuleSet } from '../../domain/rules/model/rule-set.ts';
import { NO_CHANGES, type Origins } from '../../domain/rules/overlay/overlay.ts';
import { inThread, URGENCY } from '../../http/body/in-thread.ts';
import type { Tx } from '../../platform/database/db.ts';
import type { OnConnection } from '../../platform/database/plain-transaction.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';
import type { Threads } from '../../platform/threads/threads.ts';
import { type CheckedRules, ruleCheckTask, type RuleText, type SentRules } from './rules.task.ts';

const KEPT = 60;
const cache = new Map<string, JudgingRules>();

/** Names the rules that judge a run group, or that judged an inspection. */
export interface RulesRef {
  ruleSetId: string;
  ruleSetVersion: number;
  /** null for what is older than overlays: judged by the version with `parameters` over it */
  resolvedHash: string | null;
  parameters: Readonly<Record<string, ParameterOverride>>;
}

/** Rules ready to judge. */
export interface JudgingRules {
  compiled: CompiledRuleSet;
  /** where each value came from; what is not named comes from the rule set */
  origins: Origins;
}

/**
 * The rules a reference names, compiled: the version as the venue and the run group changed it, or a plain version.
 * Neither ever changes, so each is parsed and compiled once per process; the least recently used go.
 *
 * @throws when they do not exist: foreign keys keep run groups and inspections from naming such
 */
export async function getRules(db: Tx, ref: Omit<RulesRef, 'parameters'>): Promise<JudgingRules> {
  return keepRules(ref, () => load(db, ref));
}

/** The same on one connection: whoever holds one must not wait for another. */
export async function getRulesIn(tx: OnConnection, ref: Omit<RulesRef, 'parameters'>): Promise<JudgingRules> {
  return keepRules(ref, async () => {
    const { ruleSetId, ruleSetVersion, resolvedHash } = ref;
    const [row] = await tx.rows<Stored>(
      resolvedHash === null
        ? Prisma.sql`SELECT document FROM rule_set_versions
            WHERE rule_set_id = ${ruleSetId}::uuid AND version = ${ruleSetVersion}`
        : Prisma.sql`SELECT document, origins FROM resolved_rules WHERE hash = ${resolvedHash}`,
    );
    if (row === undefined) throw new Error('the rules of a run group do not exist');
    return compiled(row);
  });
}

/** Names exactly these rules. */
export const keyOfRules = (ref: Omit<RulesRef, 'parameters'>): string =>
  ref.resolvedHash ?? `${ref.ruleSetId}@${ref.ruleSetVersion}`;

async function keepRules(ref: Omit<RulesRef, 'parameters'>, load: () => Promise<JudgingRules>): Promise<JudgingRules> {
  const key = keyOfRules(ref);
  const rules = cache.get(key) ?? (await load());
  cache.delete(key);
  cache.set(key, rules);
  const oldest = cache.keys().next().value;
  if (cache.size > KEPT && oldest !== undefined) cache.delete(oldest);
  return rules;
}

/** The overrides to judge with: none where the resolved rules have them in them already. */
export function overridesOf(ref: Pick<RulesRef, 'resolvedHash' | 'parameters'>): RulesRef['parameters'] {
  return ref.resolvedHash === null ? ref.parameters : NO_OVERRIDES;
}

// one object for all: what is worked out for overrides is kept by their identity
const NO_OVERRIDES: RulesRef['parameters'] = {};

interface Stored {
  document: unknown;
  origins?: unknown;
}

// `origins` is written together with the document, from typed values, and a trigger keeps both as they are
const compiled = ({ document, origins }: Stored): JudgingRules => ({
  compiled: compileRuleSet(RuleSet.parse(document)),
  origins: origins === undefined ? NO_CHANGES : (origins as Origins),
});

async function load(db: Tx, ref: Omit<RulesRef, 'parameters'>): Promise<JudgingRules> {
  const { ruleSetId, ruleSetVersion: version, resolvedHash } = ref;
  if (resolvedHash !== null) {
    const { document, origins } = await db.resolvedRules.findUniqueOrThrow({ where: { hash: resolvedHash } });
    return compiled({ document, origins });
  }
  const where = { ruleSetId_version: { ruleSetId, version } };
  const { document } = await db.ruleSetVersion.findUniqueOrThrow({ where });
  return compiled({ document });
}

/**
 * The rules a reference names, as they are sent into a thread: nothing of them is read here.
 *
 * @throws when they do not exist
 */
export async function findRulesText(db: Tx, ref: Omit<RulesRef, 'parameters'>): Promise<SentRules> {
  const { ruleSetId, ruleSetVersion, resolvedHash } = ref;
  const rows =
    resolvedHash === null
      ? await db.$queryRaw<SentRules[]>`
          SELECT rule_set_id || '@' || version AS key, document::text AS document FROM rule_set_versions
          WHERE rule_set_id = ${ruleSetId}::uuid AND version = ${ruleSetVersion}`
      : await db.$queryRaw<SentRules[]>`
          SELECT hash AS key, document::text AS document FROM resolved_rules WHERE hash = ${resolvedHash}`;
  if (rows[0] === undefined) throw new Error(`no rules ${keyOfRules(ref)}`);
  return rows[0];
}

/** What is asked often is kept: the check depends on the text alone, and runs every example. */
const KEPT_CHECKS = 20;
const kept = new Map<string, CheckedRules>();

/** A rule set as the check takes it. */
export const rulesAsText = ({ document, text }: { document: unknown; text?: string | undefined }): RuleText =>
  text === undefined ? { json: JSON.stringify(document) } : { yaml: text };

/**
 * Reads and checks a rule set, beside the thread that answers requests.
 *
 * @throws ProblemError `too-heavy`, `too-much-at-once`, `threads-busy`
 */
export async function checkRules(
  { threads }: { threads: Threads },
  actor: Pick<Actor, 'tokenId'>,
  text: RuleText,
): Promise<CheckedRules> {
  const [form, content] = 'json' in text ? ['json', text.json] : ['yaml', text.yaml];
  const key = createHash('sha256').update(form).update(content).digest('base64');
  const known = kept.get(key);
  if (known !== undefined) return known;
  const asked = { caller: actor.tokenId, urgency: URGENCY.check };
  const checked = await inThread(threads, ruleCheckTask, text, asked);
  kept.set(key, checked);
  const oldest = kept.keys().next().value;
  if (kept.size > KEPT_CHECKS && oldest !== undefined) kept.delete(oldest);
  return checked;
}
