import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { epochMs } from '../../domain/calendar.ts';
import { barStands, type StandingBar, standingBars } from '../../domain/clearance/clearance.ts';
import { concessionLife, concessionsInForce } from '../../domain/clearance/concession.ts';
import { parseAnswers } from '../../domain/declaration/declaration.ts';
import type { Rule } from '../../domain/rules/model/rule-set.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import { inTransaction, type Tx } from '../../platform/database/db.ts';
import { listConcessions } from '../../records/what-stands.ts';
import { assertNoInterest, mayHaveDecided } from '../../records/conflict-of-interest.ts';
import { recordEntryHistory } from '../../records/history/history.ts';
import { judgeEntry } from '../../records/judging/judge-entry.ts';
import { type LockedEntry, lockEntryForChange, stateOf } from '../../records/locks/entry-lock.ts';
import { notifyEntrant } from '../../records/notify-entrant.ts';
import { closeTicket } from '../../records/tickets.ts';
import {
  concessionMovedOn,
  type EntryRules,
  getEntryRules,
  lockConcession,
  type LockedConcession,
  takeEffect,
} from './take-effect.ts';
import {
  type ConcessionRecord,
  type ConcessionView,
  type GrantConcession,
  viewConcession,
  viewRecord,
} from './concession-schemas.ts';
import {
  findClearance,
  findConcession,
  insertConcession,
  listConcessionsOfEntry,
  type StoredConcession,
  updateApproved,
  updateRevoked,
} from './store.ts';

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
    if (needsSecondPerson) await recordEntryHistory(tx, entry, why);
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

/**
 * The second person's yes to a concession for a safety-critical rule: from now on it counts.
 *
 * @throws ProblemError `not-found`, `conflict-of-interest`, `second-person-needed` (whoever granted it),
 *   `state-moved-on` (it does not wait for approval, or the entry was withdrawn)
 */
export async function approveConcession(
  deps: Deps,
  actor: Actor,
  input: { concessionId: string; requestId: string },
): Promise<ConcessionView> {
  const { concessionId, requestId } = input;
  const at = deps.clock.now();
  return inTransaction(deps.db.prisma, async (tx) => {
    const { entry, rules, concession, state } = await lockConcession(tx, concessionId, at);
    await assertNoInterest(tx, actor, entry.entryId);
    if (state !== 'awaiting-approval') throw concessionMovedOn(state);
    await assertAnotherPerson(tx, actor, concession);
    const approved = await updateApproved(tx, { concessionId, actor, at });
    if (approved === undefined) throw concessionMovedOn(state);
    const data = { concessionId, ruleId: concession.ruleId };
    await takeEffect(tx, entry, approved, { action: 'concession.approved', actor, at, requestId, data });
    return viewConcession(approved, { ...entry, state: stateOf(entry) }, rules, at);
  });
}

/** One person with two tokens is one person. */
async function assertAnotherPerson(tx: Tx, actor: Actor, granted: StoredConcession): Promise<void> {
  if (!(await mayHaveDecided(tx, actor, { tokenId: granted.grantedBy, name: granted.grantedName }))) return;
  throw new ProblemError('second-person-needed', 'You granted this concession; somebody else must approve it.');
}

/**
 * All concessions of an entry with what has become of them, oldest first.
 *
 * @throws ProblemError `not-found`
 */
export async function listOfEntry(deps: Deps, entryId: string): Promise<ConcessionRecord[]> {
  const db = deps.db.prisma;
  const entry = await findClearance(db, entryId);
  if (entry === undefined) throw notFound('entry');
  const rules = await getEntryRules(db, entry);
  const now = deps.clock.now();
  return (await listConcessionsOfEntry(db, entryId)).map((concession) => viewRecord(concession, rules, now));
}

/**
 * One concession; an entrant sees those of the own entry only.
 *
 * @throws ProblemError `not-found`
 */
export async function getConcession(deps: Deps, actor: Actor, concessionId: string): Promise<ConcessionView> {
  const db = deps.db.prisma;
  const concession = await findConcession(db, concessionId);
  const hidden = actor.role === 'entrant' && concession?.entryId !== actor.entryId;
  if (concession === undefined || hidden) throw notFound('concession');
  const entry = await findClearance(db, concession.entryId);
  if (entry === undefined) throw notFound('concession');
  return viewConcession(concession, entry, await getEntryRules(db, entry), deps.clock.now());
}

/**
 * Takes a concession back at once: when this returns, the gate goes by the rule again, and a car that the rule bars has
 * left the line. Like a hold it only makes things stricter, so nobody is kept from it by an interest in the car.
 *
 * @throws ProblemError `not-found`, `state-moved-on` (revoked or expired already, or the entry was withdrawn)
 */
export async function revokeConcession(
  deps: Deps,
  actor: Actor,
  input: { concessionId: string; reason: string; requestId: string },
): Promise<ConcessionView> {
  const { concessionId, reason, requestId } = input;
  const at = deps.clock.now();
  return inTransaction(deps.db.prisma, async (tx) => {
    const locked = await lockConcession(tx, concessionId, at);
    const { entry, rules, state } = locked;
    if (state === 'revoked' || state === 'expired') throw concessionMovedOn(state);
    const revoked = await updateRevoked(tx, { concessionId, actor, at, reason });
    if (revoked === undefined) throw concessionMovedOn('revoked');
    const bars = state === 'in-force' ? await barsAfter(tx, locked, at) : undefined;
    await recordEntryHistory(tx, entry, {
      actor,
      at,
      action: 'concession.revoked',
      ...(bars === undefined ? {} : { happening: { type: 'concession-revoked', bars } }),
      data: { concessionId, ruleId: revoked.ruleId, reason },
      requestId,
    });
    await leaveLineIfBarred(tx, entry, at);
    await notifyEntrant(tx, { entryId: entry.entryId, kind: 'concession.revoked', id: concessionId, requestId });
    return viewConcession(revoked, { ...entry, state: stateOf(entry) }, rules, at);
  });
}

/** The bars once the concession is gone; undefined where none of them leant on it. Others to the rule may be left. */
async function barsAfter(
  tx: Tx,
  { entry, rules, concession: { ruleId } }: LockedConcession,
  now: Date,
): Promise<readonly StandingBar[] | undefined> {
  const { declared, signOff } = entry.facts;
  if (declared === undefined || !declared.bars.some((bar) => bar.ruleId === ruleId)) return undefined;
  const { ruleSetId, ruleSetVersion } = rules;
  const left = await listConcessions(tx, { entryId: entry.entryId, ruleSetId, ruleSetVersion });
  if (signOff === undefined) {
    const again = barsAsDeclared(rules, left, now).filter((bar) => bar.ruleId === ruleId);
    return declared.bars.flatMap((bar) => (bar.ruleId === ruleId ? again : [bar]));
  }
  const other = concessionsInForce(left, rules.rules, now).find((one) => one.ruleId === ruleId);
  return declared.bars.map((bar) => {
    if (bar.ruleId !== ruleId) return bar;
    return { ruleId, title: bar.title, concededUntil: other?.expiresAt, condition: other?.condition };
  });
}

/** Before the line has decided, the declaration does: what only the inspector answers did not need the concession. */
function barsAsDeclared(rules: EntryRules, concessions: EntryRules['context']['concessions'], now: Date) {
  const { inspection, judging } = rules;
  if (inspection === undefined) return [];
  const { vehicle, parameters, resolvedHash, context } = inspection;
  const parsed = parseAnswers(inspection.answers);
  // Answers that a later catalogue cannot read count as not given, which bars.
  const answers = parsed.ok ? parsed.answers : new Map();
  const judgedWith = { vehicle, parameters, resolvedHash, concessions, ...context };
  return standingBars(judgeEntry(judging, judgedWith, { answers, stage: 'declaration', now }).findings);
}

async function leaveLineIfBarred(tx: Tx, entry: LockedEntry, now: Date): Promise<void> {
  const { declared, signOff } = entry.facts;
  if (signOff !== undefined || !declared?.bars.some((bar) => barStands(bar, now))) return;
  await closeTicket(tx, entry, 'void', now);
}
