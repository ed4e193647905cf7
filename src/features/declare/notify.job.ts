import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { defineJob } from '../../platform/queue/job.ts';
import { findInspection } from '../../records/judging/inspections.ts';
import { notifyOnce } from '../../records/notify-entrant.ts';

const Payload = z.strictObject({ inspectionId: z.uuid() });

/** Tells the entrant what the rules made of a submitted revision. */
export const inspectionNotifyJob = defineJob<Deps, z.infer<typeof Payload>>({
  name: 'inspection.notify',
  payload: Payload,
  attempts: 8,
  backoffMs: 2000,
  async handle(deps, { inspectionId }, context) {
    const inspection = await findInspection(deps.db.prisma, inspectionId);
    if (inspection === undefined) return;
    const { entryId, revision, verdict } = inspection;
    await notifyOnce(deps, context, {
      dedupeKey: `inspection.submitted/${inspectionId}`,
      entryId,
      kind: 'inspection.submitted',
      facts: { inspectionId, revision, verdict },
    });
  },
});
