import type { Deps } from '../deps.ts';
import type { JobContext } from '../platform/job.ts';

/** Something an entrant is told. */
export interface Message {
  /** makes a job that runs twice tell it once */
  dedupeKey: string;
  entryId: string;
  /** `noun.verb` */
  kind: string;
  /** ids and states; no names, no addresses */
  facts: Readonly<Record<string, unknown>>;
}

/**
 * Tells the entrant, once per `dedupeKey`. The only transport so far is the log: a line that a mail transport will
 * replace. Safe to run twice.
 */
export async function notifyOnce(deps: Deps, context: JobContext, message: Message): Promise<void> {
  const { count } = await deps.db.prisma.notification.createMany({
    data: {
      dedupeKey: message.dedupeKey,
      entryId: message.entryId,
      kind: message.kind,
      transport: 'log',
      sentAt: deps.clock.now(),
    },
    skipDuplicates: true,
  });
  if (count === 0) return;
  context.log.info({ entryId: message.entryId, kind: message.kind, ...message.facts }, 'entrant notified');
}
