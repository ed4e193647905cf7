import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { barStands, type StandingBar, standingBars } from '../../domain/clearance/clearance.ts';
import { concessionsInForce } from '../../domain/clearance/concession.ts';
import { parseAnswers } from '../../domain/declaration/declaration.ts';
import { inTransaction, type Tx } from '../../platform/database/db.ts';
import { listConcessions } from '../../records/concessions.ts';
import { type LockedEntry, stateOf } from '../../records/locks/entry-lock.ts';
import { recordEntryHistory } from '../../records/history/history.ts';
import { judgeEntry } from '../../records/judging/judge-entry.ts';
import { notifyEntrant } from '../../records/notify-entrant.ts';
import { closeTicket } from '../../records/tickets.ts';
import type { EntryRules } from './concession-entry-rules.ts';
import { concessionMovedOn, lockConcession, type LockedConcession } from './take-effect.ts';
import { type ConcessionView, viewConcession } from './concession-schemas.ts';
import { updateRevoked } from './concession-store.ts';

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
