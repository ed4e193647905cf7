import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { defineJob } from '../../platform/queue/job.ts';
import { notifyOnce } from '../../records/notify-entrant.ts';
import { findSignOff } from './sign-off-store.ts';

const Payload = z.strictObject({ signOffId: z.uuid() });

/** Tells the entrant what the line decided. */
export const signOffNotifyJob = defineJob<Deps, z.infer<typeof Payload>>({
  name: 'sign-off.notify',
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
