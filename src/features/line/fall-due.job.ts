import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { SYSTEM_ACTOR } from '../../domain/actor.ts';
import { epochMs } from '../../domain/calendar.ts';
import { inTransaction } from '../../platform/database/db.ts';
import { defineJob } from '../../platform/queue/job.ts';
import { hasHappened, recordEntryHistory } from '../../records/history/history.ts';
import { lockEntry } from '../../records/locks/entry-lock.ts';
import { CLEARANCE_EXPIRE, CONDITION_FALL_DUE } from '../../records/what-stands.ts';
import { notifyOnce } from '../../records/notify-entrant.ts';
import { releaseClaim } from '../../records/tickets.ts';
import { findCondition, findSignOff, SIGN_OFF_NOTIFY } from './sign-off-store.ts';
import { findClaim } from './store.ts';

const Payload = z.strictObject({ signOffId: z.uuid() });

/** Tells the entrant what the line decided. */
export const signOffNotifyJob = defineJob<Deps, z.infer<typeof Payload>>({
  name: SIGN_OFF_NOTIFY,
  payload: Payload,
  attempts: 8,
  backoffMs: 2000,
  async handle(deps, { signOffId }, context) {
    const signOff = await findSignOff(deps.db.prisma, signOffId);
    if (signOff === undefined) return;
    const { entryId, decision } = signOff;
    const dedupeKey = `entry.signed-off/${signOffId}`;
    await notifyOnce(deps, context, { dedupeKey, entryId, kind: 'entry.signed-off', facts: { signOffId, decision } });
  },
});

const DuePayload = z.strictObject({ conditionId: z.uuid() });

/**
 * Notes in the history that a condition fell due while open, and tells the entrant. The gate holds the car by the
 * clock, with or without this job.
 */
export const conditionDueJob = defineJob<Deps, z.infer<typeof DuePayload>>({
  name: CONDITION_FALL_DUE,
  payload: DuePayload,
  attempts: 10,
  backoffMs: 2000,
  async handle(deps, { conditionId }, context) {
    const condition = await findCondition(deps.db.prisma, conditionId);
    if (condition === undefined) return;
    const { entryId } = condition;
    const fellDue = await inTransaction(deps.db.prisma, async (tx) => {
      const entry = await lockEntry(tx, entryId);
      const open = entry?.facts.conditions.find((candidate) => candidate.id === conditionId);
      const now = deps.clock.now();
      if (entry === undefined || open?.dueAt === undefined || epochMs(open.dueAt) > now.getTime()) return false;
      if (await hasHappened(tx, entryId, 'condition.fell-due', { conditionId })) return true;
      const data = { conditionId };
      const requestId = context.requestId ?? undefined;
      await recordEntryHistory(tx, entry, {
        actor: SYSTEM_ACTOR,
        at: now,
        action: 'condition.fell-due',
        data,
        requestId,
      });
      return true;
    });
    if (!fellDue) return;
    const dedupeKey = `condition.fell-due/${conditionId}`;
    await notifyOnce(deps, context, { dedupeKey, entryId, kind: 'condition.fell-due', facts: { conditionId } });
  },
});

/** Notes in the history that a clearance ended. The gate refuses the car by the clock, with or without this job. */
export const clearanceExpireJob = defineJob<Deps, z.infer<typeof Payload>>({
  name: CLEARANCE_EXPIRE,
  payload: Payload,
  attempts: 10,
  backoffMs: 2000,
  async handle(deps, { signOffId }, context) {
    const signOff = await findSignOff(deps.db.prisma, signOffId);
    if (signOff === undefined) return;
    await inTransaction(deps.db.prisma, async (tx) => {
      const entry = await lockEntry(tx, signOff.entryId);
      const standing = entry?.facts.signOff;
      const now = deps.clock.now();
      // A newer decision, or a voided one, has an end of its own.
      if (entry === undefined || standing?.signOffId !== signOffId || standing.validUntil === undefined) return;
      if (epochMs(standing.validUntil) > now.getTime()) return;
      if (await hasHappened(tx, entry.entryId, 'clearance.expired', { signOffId })) return;
      const requestId = context.requestId ?? undefined;
      await recordEntryHistory(tx, entry, {
        actor: SYSTEM_ACTOR,
        at: now,
        action: 'clearance.expired',
        data: { signOffId },
        requestId,
      });
    });
  },
});

const ClaimPayload = z.strictObject({ claimId: z.uuid() });

/**
 * Puts a ticket back when its lease has run out. It only tidies up: whether a lease blocks is decided by the database
 * clock at each claim. A renewed claim is left alone; its renewal has a job of its own.
 */
export const claimExpireJob = defineJob<Deps, z.infer<typeof ClaimPayload>>({
  name: 'claim.expire',
  payload: ClaimPayload,
  attempts: 10,
  backoffMs: 2000,
  async handle(deps, { claimId }, context) {
    await inTransaction(deps.db.prisma, async (tx) => {
      const claim = await findClaim(tx, claimId);
      const entry = claim === undefined ? undefined : await lockEntry(tx, claim.entryId, 'entry');
      if (claim === undefined || entry === undefined || !(await releaseClaim(tx, claim, 'expired'))) return;
      await recordEntryHistory(tx, entry, {
        actor: SYSTEM_ACTOR,
        at: deps.clock.now(),
        action: 'claim.expired',
        data: { claimId, ticketId: claim.ticketId },
        requestId: context.requestId ?? undefined,
      });
      context.log.info({ claimId, entryId: claim.entryId }, 'claim expired');
    });
  },
});
