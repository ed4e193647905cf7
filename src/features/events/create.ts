import type { Deps } from '../../deps.ts';
import { assertEventMakesSense } from './check.ts';
import type { EventInput } from './schemas.ts';
import { insertEvent, type StoredEvent } from './store.ts';

/** @throws ProblemError `not-acceptable` */
export async function createEvent(deps: Deps, input: EventInput): Promise<StoredEvent> {
  await assertEventMakesSense(deps.db.prisma, input);
  return insertEvent(deps.db.prisma, input);
}
