import { z } from 'zod';
import { Id, InstantOut } from '../../http/frame/common-schemas.ts';
import type { Backlog } from './metrics-store.ts';

export const QUEUE_STATES = ['working', 'nobody', 'stuck', 'late'] as const;
/** How it stands with the jobs. */
export type QueueState = (typeof QUEUE_STATES)[number];

/** The queue takes what is ordered within seconds. Common practice, no source. */
const STUCK_SECONDS = 60;
/** The longest jobs (trials, imports of a whole list) are done within minutes. Common practice, no source. */
const LATE_SECONDS = 600;

/** @param workers processes that are connected to run jobs */
export function queueState(workers: number, backlog: Backlog): QueueState {
  if (workers === 0) return 'nobody';
  if (backlog.failing > 0 || backlog.oldestWaitingSeconds > STUCK_SECONDS) return 'stuck';
  return backlog.oldestUnfinishedSeconds > LATE_SECONDS ? 'late' : 'working';
}

export const jobParams = z.strictObject({ jobId: Id.describe('The job') });

const MaybeInstant = z.string().nullable().describe('Instant, RFC 3339 in UTC');

const KeptBackup = z.object({
  name: z.string().describe('Name of the file'),
  place: z.string().describe('Folder or bucket'),
  startedAt: InstantOut,
  finishedAt: MaybeInstant,
  bytes: z.number().nullable().describe('Size'),
  encrypted: z.boolean().describe('With the passphrase'),
  verified: z
    .string()
    .nullable()
    .describe('`restored`: brought back into a scratch database; `read`: only read to its end; null: neither yet'),
  error: z.string().nullable().describe('What was wrong'),
  removedAt: MaybeInstant.describe('When it made room for newer ones'),
});

export const ServerView = z
  .object({
    asOf: InstantOut,
    version: z.string().describe('Of this server'),
    workers: z.array(z.object({ since: InstantOut })).describe('Processes that run jobs, and since when'),
    queue: z
      .object({
        kind: z.enum(['postgres', 'redis']).describe('Where jobs wait'),
        state: z
          .enum(QUEUE_STATES)
          .describe(
            '`nobody` runs jobs; `stuck`: the queue does not take them; `late`: one is due for over 10 minutes',
          ),
        waiting: z.int().describe('Jobs that the queue has not taken yet'),
        failing: z.int().describe('Of these, jobs that it failed to take'),
        oldestWaitingSeconds: z.number().describe('Age of the oldest of these'),
        unfinished: z.int().describe('Jobs that are due and not done'),
        oldestUnfinishedSeconds: z.number().describe('For how long the oldest is due'),
        failed: z.int().describe('Jobs of the last 30 days that failed for good'),
      })
      .describe('What waits between a request and what it ordered'),
    failedJobs: z
      .array(
        z.object({
          jobId: Id,
          name: z.string().describe('What it does, `noun.verb`'),
          orderedAt: InstantOut,
          failedAt: InstantOut,
          reason: z.string().nullable().describe('What went wrong at its last try'),
        }),
      )
      .describe('Newest first, at most 100'),
    backups: z
      .object({
        place: z.string().nullable().describe('Where they are kept; null: this server keeps none'),
        everyHours: z.int().describe('0: only when told to'),
        keep: z.int().describe('How many'),
        making: z.boolean().describe('One is ordered or being made'),
        newest: z.array(KeptBackup).describe('Newest first, at most 10; also those that came to nothing'),
      })
      .describe('Backups'),
  })
  .meta({ id: 'ServerView' });
export type ServerView = z.infer<typeof ServerView>;

export const SERVER_EXAMPLE: ServerView = {
  asOf: '2026-06-13T05:40:00.000Z',
  version: '0.2.0',
  workers: [{ since: '2026-06-12T18:00:00.000Z' }],
  queue: {
    kind: 'postgres',
    state: 'working',
    waiting: 0,
    failing: 0,
    oldestWaitingSeconds: 0,
    unfinished: 1,
    oldestUnfinishedSeconds: 0.4,
    failed: 1,
  },
  failedJobs: [
    {
      jobId: '019ab8f0-0000-7000-8000-0000000000f1',
      name: 'webhook.deliver',
      orderedAt: '2026-06-12T18:10:00.000Z',
      failedAt: '2026-06-12T20:10:00.000Z',
      reason: 'no answer within 15 s',
    },
  ],
  backups: {
    place: '/var/backups/gridworthy',
    everyHours: 24,
    keep: 14,
    making: false,
    newest: [
      {
        name: 'gridworthy-20260612T200000Z.backup',
        place: '/var/backups/gridworthy',
        startedAt: '2026-06-12T20:00:00.000Z',
        finishedAt: '2026-06-12T20:00:04.000Z',
        bytes: 1_204_224,
        encrypted: false,
        verified: 'restored',
        error: null,
        removedAt: null,
      },
    ],
  },
};

export const JobOrdered = z.object({ jobId: Id.describe('The job that was ordered') }).meta({ id: 'JobOrdered' });
