import type { OpenCondition } from '../../domain/clearance.ts';
import type { OutboxEntry } from '../../platform/outbox.ts';
import { clearanceExpireJob } from './clearance-expire.job.ts';
import { conditionDueJob } from './condition-due.job.ts';
import { signOffNotifyJob } from './sign-off-notify.job.ts';

/** What time does after a sign-off: conditions that fall due, the end of the clearance, and the message. */
export function jobsAfterSignOff(signed: {
  signOffId: string;
  conditions: readonly OpenCondition[];
  validUntil: Date | undefined;
  requestId: string;
}): OutboxEntry[] {
  const { signOffId, validUntil, requestId } = signed;
  const due = signed.conditions.flatMap(({ id, dueAt }) =>
    dueAt === undefined ? [] : [{ payload: { conditionId: id }, runAt: new Date(dueAt) }],
  );
  return [
    { name: signOffNotifyJob.name, payload: { signOffId }, requestId },
    ...due.map((one) => ({ name: conditionDueJob.name, ...one, requestId })),
    ...(validUntil === undefined
      ? []
      : [{ name: clearanceExpireJob.name, payload: { signOffId }, runAt: validUntil, requestId }]),
  ];
}
