import { z } from 'zod';
import { SYSTEM_ACTOR } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { inTransaction } from '../../platform/database/db.ts';
import { defineJob } from '../../platform/queue/job.ts';
import { releaseClaim } from '../../records/tickets.ts';
import { lockEntry } from '../../records/locks/entry-lock.ts';
import { recordEntryHistory } from '../../records/history/history.ts';
import { findClaim } from './store.ts';

const Payload = z.strictObject({ claimId: z.uuid() });

/**
 * Puts a ticket back when its lease has run out. It only tidies up: whether a lease blocks is decided by the database
 * clock at each claim. A renewed claim is left alone; its renewal has a job of its own.
 */
export const claimExpireJob = defineJob<Deps, z.infer<typeof Payload>>({
  name: 'claim.expire',
  payload: Payload,
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
