import { CLOCK_ACTOR } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { eraseEntry } from './erase.ts';
import { listOverdue } from './store.ts';

const BATCH = 100;

/**
 * Erases the people of every entry whose event is over for longer than it keeps personal data, each in a transaction of
 * its own. One that fails is reported and tried again next time; the others are erased. Returns how many were.
 */
export async function eraseOverdue(deps: Deps, signal?: AbortSignal): Promise<number> {
  let erased = 0;
  let after: string | undefined;
  const isStopping = () => signal?.aborted === true;
  while (!isStopping()) {
    const entryIds = await listOverdue(deps.db.prisma, deps.clock.now(), after, BATCH);
    for (const entryId of entryIds) {
      if (isStopping()) break;
      if (await eraseOne(deps, entryId)) erased += 1;
    }
    after = entryIds.at(-1);
    if (entryIds.length < BATCH) break;
  }
  if (erased > 0) deps.log.info({ erased }, 'entrants were erased whose time was over');
  return erased;
}

async function eraseOne(deps: Deps, entryId: string): Promise<boolean> {
  try {
    const reason = 'The time for which the event keeps personal data is over.';
    await eraseEntry(deps, CLOCK_ACTOR, { entryId, reason, force: false, requestId: undefined });
    return true;
  } catch (error) {
    deps.log.error({ error, entryId }, 'an entrant could not be erased');
    return false;
  }
}
