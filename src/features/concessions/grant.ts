import type { Actor } from '../../domain/actor.ts';
import { concessionLife } from '../../domain/concession.ts';
import { epochMs } from '../../domain/instant.ts';
import type { Rule } from '../../domain/rules/rule-set.ts';
import type { Deps } from '../../deps.ts';
import { ProblemError } from '../../http/problem.ts';
import { inTransaction } from '../../platform/db.ts';
import { assertNoInterest } from '../../records/conflict-of-interest.ts';
import { lockEntryForChange } from '../../records/entry-for-change.ts';
import { stateOf } from '../../records/entry-lock.ts';
import { recordEvent } from '../../records/history.ts';
import { type EntryRules, getEntryRules } from './entry-rules.ts';
import type { ConcessionView, GrantConcession } from './schemas.ts';
import { insertConcession } from './store.ts';
import { takeEffect } from './take-effect.ts';
import { viewConcession } from './view.ts';

interface Grant {
  entryId: string;
  body: GrantConcession;
  requestId: string;
}

/**
 * Grants an exception to exactly one rule of the version that judged the entry (or, before its first submission, that
 * its run group points at). To a safety-critical rule it counts nothing until a second person approves it. When it was
 * the last rule that barred a submitted car, the car gets its place on the line.
 *
 * @throws ProblemError `not-found`, `conflict-of-interest`, `not-acceptable` (rule, end), `state-moved-on` (withdrawn)
 */
export async function grantConcession(deps: Deps, actor: Actor, grant: Grant): Promise<ConcessionView> {
  const at = deps.clock.now();
  const { entryId, body, requestId } = grant;
  const { ruleId, reason, condition, coversLaterVersions = false } = body;
  const expiresAt = new Date(body.expiresAt);
  assertAhead(expiresAt, at);
  return inTransaction(deps.db.prisma, async (tx) => {
    const entry = await lockEntryForChange(tx, entryId);
    await assertNoInterest(tx, actor, entryId);
    const rules = await getEntryRules(tx, entry);
    const rule = getRule(rules, ruleId);
    assertWithinLife(rule, rules, { expiresAt, at });
    const { ruleSetId, ruleSetVersion } = rules;
    const needsSecondPerson = rule.safetyCritical === true;
    const terms = { ruleId, reason, condition, coversLaterVersions, needsSecondPerson, ruleSetId, ruleSetVersion };
    const limits = { category: rule.concession, expiresAt };
    const concession = await insertConcession(tx, { entryId, ...terms, ...limits, actor, at });
    const { concessionId } = concession;
    const data = { concessionId, ...terms, expiresAt: concession.expiresAt };
    const why = { action: 'concession.granted' as const, actor, at, requestId, data };
    if (needsSecondPerson) await recordEvent(tx, entry, why);
    else await takeEffect(tx, entry, concession, why);
    return viewConcession(concession, { ...entry, state: stateOf(entry) }, rules, at);
  });
}

function assertAhead(expiresAt: Date, now: Date): void {
  if (epochMs(expiresAt.toISOString()) > now.getTime()) return;
  throw notAcceptable('/expiresAt', 'in-the-past', 'The end of a concession must lie ahead.');
}

function getRule({ rules, ruleSetVersion }: EntryRules, ruleId: string): Rule {
  const rule = rules.find(({ id }) => id === ruleId);
  if (rule !== undefined) return rule;
  throw notAcceptable('/ruleId', 'unknown-rule', `Version ${ruleSetVersion} has no rule "${ruleId}".`);
}

function assertWithinLife(rule: Rule, { ruleSet, context }: EntryRules, asked: { expiresAt: Date; at: Date }): void {
  const { timeZone } = context.venue;
  const when = { now: asked.at, timeZone, lastDay: context.event.endsOn };
  const { latestEnd, because } = concessionLife(rule, ruleSet, when);
  if (latestEnd === undefined) {
    throw notAcceptable('/ruleId', 'none-allowed', `No concession to "${rule.id}": ${because}.`);
  }
  if (asked.expiresAt <= latestEnd) return;
  const end = latestEnd.toISOString();
  throw notAcceptable('/expiresAt', 'too-long', `At the latest ${end}: ${because}.`, { latestEnd: end });
}

function notAcceptable(pointer: string, code: string, detail: string, more: object = {}): ProblemError {
  const errors = [{ pointer, code, detail, in: 'body', ...more }];
  return new ProblemError('not-acceptable', detail, { errors });
}
