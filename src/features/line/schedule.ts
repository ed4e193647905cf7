import type { OpenCondition } from '../../domain/clearance.ts';
import type { Tx } from '../../platform/db.ts';
import { appendOutbox } from '../../platform/outbox.ts';
import { clearanceExpireJob } from './clearance-expire.job.ts';
import { conditionDueJob } from './condition-due.job.ts';
import { signOffNotifyJob } from './sign-off-notify.job.ts';

/** Orders what time does after a sign-off: conditions that fall due, the end of the clearance, and the message. */
export async function scheduleAfterSignOff(
  tx: Tx,
  signed: {
    signOffId: string;
    conditions: readonly OpenCondition[];
    validUntil: Date | undefined;
    requestId: string;
  },
): Promise<void> {
  const { signOffId, requestId } = signed;
  await appendOutbox(tx, { name: signOffNotifyJob.name, payload: { signOffId }, requestId });
  for (const { id, dueAt } of signed.conditions) {
    if (dueAt === undefined) continue;
    const payload = { conditionId: id };
    await appendOutbox(tx, { name: conditionDueJob.name, payload, runAt: new Date(dueAt), requestId });
  }
  if (signed.validUntil !== undefined) {
    const payload = { signOffId };
    await appendOutbox(tx, { name: clearanceExpireJob.name, payload, runAt: signed.validUntil, requestId });
  }
}
