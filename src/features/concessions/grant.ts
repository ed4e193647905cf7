import type { Actor } from '../../domain/actor.ts';
import { barStands } from '../../domain/clearance.ts';
import { epochMs } from '../../domain/instant.ts';
import type { Deps } from '../../deps.ts';
import { viewClearance } from '../../http/clearance-view.ts';
import { notFound, ProblemError } from '../../http/problem.ts';
import { inTransaction, type Tx } from '../../platform/db.ts';
import { assertNoInterest } from '../../records/conflict-of-interest.ts';
import { lockEntryForChange } from '../../records/entry-for-change.ts';
import type { LockedEntry } from '../../records/entry-lock.ts';
import { recordEvent } from '../../records/history.ts';
import { findInspection } from '../../records/inspections.ts';
import { findJudgingContext } from '../../records/judging-context.ts';
import { getRules, type RulesRef } from '../../records/rules.ts';
import { tellEntrant } from '../../records/tell-entrant.ts';
import { findLiveTicket, openTicket } from '../../records/tickets.ts';
import type { ConcessionView, GrantConcession } from './schemas.ts';
import { insertConcession } from './store.ts';

interface Grant {
  entryId: string;
  body: GrantConcession;
  requestId: string;
}

/**
 * Grants an exception to exactly one rule of the version that judged the entry (or, before its first submission, that
 * its run group points at). When it was the last rule that barred a submitted car, the car gets its place on the line.
 *
 * @throws ProblemError `not-found`, `conflict-of-interest`, `not-acceptable` (rule, end), `state-moved-on` (withdrawn)
 */
export async function grantConcession(deps: Deps, actor: Actor, grant: Grant): Promise<ConcessionView> {
  const now = deps.clock.now();
  const expiresAt = new Date(grant.body.expiresAt);
  assertAhead(expiresAt, now);
  return inTransaction(deps.db.prisma, async (tx) => {
    const entry = await lockEntryForChange(tx, grant.entryId, now);
    await assertNoInterest(tx, actor, entry.entryId);
    const { resolvedHash, ...version } = await rulesFor(tx, entry);
    await assertRuleExists(tx, { ...version, resolvedHash }, grant.body.ruleId);
    const { ruleId, reason } = grant.body;
    const what = { entryId: entry.entryId, ruleId, reason, ...version, expiresAt };
    const concessionId = await insertConcession(tx, { ...what, actor, at: now });
    const until = expiresAt.toISOString();
    await recordEvent(tx, entry, {
      actor,
      at: now,
      action: 'concession.granted',
      event: { type: 'conceded', ruleId, until },
      data: { concessionId, reason, ...version },
      requestId: grant.requestId,
    });
    await joinLineIfFree(tx, entry, now);
    await tellEntrant(tx, {
      entryId: entry.entryId,
      kind: 'concession.granted',
      id: concessionId,
      requestId: grant.requestId,
    });
    return {
      ...what,
      concessionId,
      carNumber: entry.carNumber,
      expiresAt: until,
      grantedBy: actor.name,
      grantedAt: now.toISOString(),
      clearance: viewClearance(entry.facts, now),
    };
  });
}

function assertAhead(expiresAt: Date, now: Date): void {
  if (epochMs(expiresAt.toISOString()) > now.getTime()) return;
  throw notAcceptable('/expiresAt', 'in-the-past', 'The end of a concession must lie ahead.');
}

type Rules = Omit<RulesRef, 'parameters'>;

async function rulesFor(tx: Tx, entry: LockedEntry): Promise<Rules> {
  const declared = entry.facts.declared;
  const source =
    declared === undefined
      ? await findJudgingContext(tx, entry.entryId)
      : await findInspection(tx, declared.inspectionId);
  if (source === undefined) throw notFound('entry');
  const { ruleSetId, ruleSetVersion, resolvedHash } = source;
  return { ruleSetId, ruleSetVersion, resolvedHash };
}

async function assertRuleExists(tx: Tx, rules: Rules, ruleId: string): Promise<void> {
  const { compiled } = await getRules(tx, rules);
  if (compiled.ruleSet.rules.some((rule) => rule.id === ruleId)) return;
  throw notAcceptable('/ruleId', 'unknown-rule', `Version ${rules.ruleSetVersion} has no rule "${ruleId}".`);
}

async function joinLineIfFree(tx: Tx, entry: LockedEntry, now: Date): Promise<void> {
  const { declared, signOff } = entry.facts;
  if (declared === undefined || signOff !== undefined || declared.bars.some((bar) => barStands(bar, now))) return;
  if ((await findLiveTicket(tx, entry.entryId)) !== undefined) return;
  await openTicket(tx, entry, { inspectionId: declared.inspectionId, queuedAt: now });
}

function notAcceptable(pointer: string, code: string, detail: string): ProblemError {
  return new ProblemError('not-acceptable', detail, { errors: [{ pointer, code, detail, in: 'body' }] });
}
