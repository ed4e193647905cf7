import type { Deps } from './deps.ts';
import { importJob } from './features/entries/import/import.job.ts';
import { daysChangedJob } from './features/set-up/days-changed.job.ts';
import { timetableMovedJob } from './features/set-up/timetable/moved.job.ts';
import { inspectionNotifyJob } from './features/declare/notify.job.ts';
import { claimExpireJob } from './features/line/claim-expire.job.ts';
import { clearanceExpireJob } from './features/line/clearance-expire.job.ts';
import { conditionDueJob } from './features/line/condition-due.job.ts';
import { signOffNotifyJob } from './features/line/sign-off-notify.job.ts';
import { rejudgeJob } from './features/trials/rejudge.job.ts';
import { trialJob } from './features/trials/trial.job.ts';
import { mailSendJob } from './features/mail/send.job.ts';
import { mailWriteJob } from './features/mail/write.ts';
import { webhookDeliverJob } from './features/notify/deliver.job.ts';
import { webhookFanOutJob } from './features/notify/fan-out.job.ts';
import type { JobDefinition } from './platform/queue/job.ts';
import { notifyEntrantJob } from './records/notify-entrant.ts';

/** Every job there is. What is not listed here cannot be run, and the relay refuses to add it. */
export const JOBS = [
  inspectionNotifyJob,
  signOffNotifyJob,
  notifyEntrantJob,
  mailWriteJob,
  mailSendJob,
  claimExpireJob,
  conditionDueJob,
  clearanceExpireJob,
  daysChangedJob,
  timetableMovedJob,
  rejudgeJob,
  trialJob,
  importJob,
  webhookFanOutJob,
  webhookDeliverJob,
  // Each parses its own payload before its handler sees it, so the list may forget the payload types.
] as unknown as readonly JobDefinition<Deps, unknown>[];
