import { z } from 'zod';
import { SYSTEM_ACTOR } from '../../domain/actor.ts';
import { epochMs } from '../../domain/calendar.ts';
import type { Deps } from '../../deps.ts';
import { inTransaction } from '../../platform/database/db.ts';
import { defineJob } from '../../platform/queue/job.ts';
import { lockEntry } from '../../records/locks/entry-lock.ts';
import { CLEARANCE_EXPIRE } from '../../records/locks/event-days.ts';
import { hasHappened, recordEntryHistory } from '../../records/history/history.ts';
import { findSignOff } from './sign-off-store.ts';

const Payload = z.strictObject({ signOffId: z.uuid() });

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
