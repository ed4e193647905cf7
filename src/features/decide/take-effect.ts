import type { Actor } from '../../domain/actor.ts';
import {
  barStands,
  type ClearanceFacts,
  type EntryHappening,
  extendsBar,
  type OpenCondition,
} from '../../domain/clearance/clearance.ts';
import { type ConcessionState, concessionState } from '../../domain/clearance/concession.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import type { Tx } from '../../platform/database/db.ts';
import { insertConditions } from '../../records/what-stands.ts';
import { type LockedEntry, lockEntryForChange } from '../../records/locks/entry-lock.ts';
import { recordEntryHistory } from '../../records/history/history.ts';
import { notifyEntrant } from '../../records/notify-entrant.ts';
import { findLiveTicket, openTicket } from '../../records/tickets.ts';
import type { Rule, RuleSet } from '../../domain/rules/model/rule-set.ts';
import { findInspection, type StoredInspection } from '../../records/judging/inspections.ts';
import { findJudgingContext, type JudgingContext } from '../../records/judging/judging-context.ts';
import { getRules, type JudgingRules } from '../../records/judging/rules.ts';
import { findConcession, type StoredConcession } from './store.ts';

/** The rules that concessions of an entry go by. */
export interface EntryRules {
  ruleSetId: string;
  ruleSetVersion: number;
  rules: readonly Rule[];
  ruleSet: RuleSet;
  judging: JudgingRules;
  context: JudgingContext;
  /** what was judged by them; undefined before the first submission */
  inspection: StoredInspection | undefined;
}

/**
 * The rules that judged the declaration of an entry, as the clearance has it; before its first submission those of its
 * run group.
 *
 * @throws ProblemError `not-found`
 */
export async function getEntryRules(db: Tx, entry: { entryId: string; facts: ClearanceFacts }): Promise<EntryRules> {
  const { declared } = entry.facts;
  const context = await findJudgingContext(db, entry.entryId);
  const inspection = declared === undefined ? undefined : await findInspection(db, declared.inspectionId);
  if (context === undefined) throw notFound('entry');
  const { ruleSetId, ruleSetVersion, resolvedHash } = inspection ?? context;
  const judging = await getRules(db, { ruleSetId, ruleSetVersion, resolvedHash });
  const { ruleSet } = judging.compiled;
  return { ruleSetId, ruleSetVersion, rules: ruleSet.rules, ruleSet, judging, context, inspection };
}

/** A concession as it is while its entry is locked: nobody decides about it meanwhile. */
export interface LockedConcession {
  entry: LockedEntry;
  rules: EntryRules;
  concession: StoredConcession;
  state: ConcessionState;
}

/**
 * Locks the entry of a concession and reads the concession under that lock.
 *
 * @throws ProblemError `not-found`; `state-moved-on` when the entry was withdrawn
 */
export async function lockConcession(tx: Tx, concessionId: string, now: Date): Promise<LockedConcession> {
  const before = await findConcession(tx, concessionId);
  if (before === undefined) throw notFound('concession');
  const entry = await lockEntryForChange(tx, before.entryId);
  const concession = await findConcession(tx, concessionId);
  if (concession === undefined) throw notFound('concession');
  const rules = await getEntryRules(tx, entry);
  return { entry, rules, concession, state: concessionState(concession, rules, now) };
}

const SAYS: Record<ConcessionState, string> = {
  'awaiting-approval': 'It waits for a second person.',
  'in-force': 'It is in force.',
  expired: 'It has expired.',
  revoked: 'It was revoked.',
  'not-covering': 'It does not cover the rules that judge the entry now.',
};

/** The refusal of what cannot be done to a concession in this state. */
export function concessionMovedOn(currentState: ConcessionState): ProblemError {
  return new ProblemError('state-moved-on', SAYS[currentState], { currentState });
}

/**
 * Lets a concession count from now on, and tells it: history, clearance, the entrant. When it covers the last rule that
 * barred a submitted car, the car gets its place on the line.
 */
export async function takeEffect(
  tx: Tx,
  entry: LockedEntry,
  concession: StoredConcession,
  why: {
    action: 'concession.granted' | 'concession.approved';
    actor: Actor;
    at: Date;
    requestId: string;
    data: Record<string, unknown>;
  },
): Promise<void> {
  const { ruleId, expiresAt: until, condition, concessionId: id } = concession;
  const opens = await openCondition(tx, entry, concession);
  const event: EntryHappening = {
    type: 'conceded',
    ruleId,
    until,
    ...(condition === undefined ? {} : { condition }),
    ...(opens === undefined ? {} : { opens }),
  };
  await recordEntryHistory(tx, entry, { ...why, happening: event });
  await joinLineIfFree(tx, entry, why.at);
  await notifyEntrant(tx, { entryId: entry.entryId, kind: why.action, id, requestId: why.requestId });
}

/** What the concession asks of a car that was accepted before: the sign-off could not make it a condition. */
async function openCondition(
  tx: Tx,
  { entryId, facts }: LockedEntry,
  { ruleId, expiresAt: until, condition: text }: StoredConcession,
): Promise<OpenCondition | undefined> {
  const { declared, signOff, conditions } = facts;
  if (text === undefined || signOff === undefined || signOff.decision === 'refuse') return undefined;
  const bar = declared?.bars.find((one) => one.ruleId === ruleId);
  if (bar === undefined || !extendsBar(bar, { until, condition: text })) return undefined;
  if (conditions.some((condition) => condition.text === text)) return undefined;
  const [opened] = await insertConditions(tx, { signOffId: signOff.signOffId, entryId, conditions: [{ text }] });
  return opened;
}

async function joinLineIfFree(tx: Tx, entry: LockedEntry, now: Date): Promise<void> {
  const { declared, signOff } = entry.facts;
  if (declared === undefined || signOff !== undefined || declared.bars.some((bar) => barStands(bar, now))) return;
  if ((await findLiveTicket(tx, entry.entryId)) !== undefined) return;
  await openTicket(tx, entry, { inspectionId: declared.inspectionId, queuedAt: now });
}
