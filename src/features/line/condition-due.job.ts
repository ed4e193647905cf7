import { z } from 'zod';
import { SYSTEM_ACTOR } from '../../domain/actor.ts';
import { epochMs } from '../../domain/calendar.ts';
import type { Deps } from '../../deps.ts';
import { inTransaction } from '../../platform/database/db.ts';
import { defineJob } from '../../platform/queue/job.ts';
import { lockEntry } from '../../records/locks/entry-lock.ts';
import { CONDITION_FALL_DUE } from '../../records/locks/event-days.ts';
import { hasHappened, recordEntryHistory } from '../../records/history/history.ts';
import { notifyOnce } from '../../records/notify-entrant.ts';
import { findCondition } from './sign-off-store.ts';

const Payload = z.strictObject({ conditionId: z.uuid() });

/**
 * Notes in the history that a condition fell due while open, and tells the entrant. The gate holds the car by the
 * clock, with or without this job.
 */
export const conditionDueJob = defineJob<Deps, z.infer<typeof Payload>>({
  name: CONDITION_FALL_DUE,
  payload: Payload,
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
