import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { once, repeatable } from '../../http/frame/idempotency.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import type { Answer } from '../../http/frame/route.ts';
import { inTransaction, type Tx } from '../../platform/database/db.ts';
import { listEntriesOfPerson, lockPeople } from '../../records/locks/driver-holds.ts';
import { type LockedEntry, lockEntries, lockEntryForChange } from '../../records/locks/entry-lock.ts';
import { recordEntryHistory } from '../../records/history/history.ts';
import { notifyEntrant } from '../../records/notify-entrant.ts';
import { holdCarOrEntry } from './hold-car.ts';
import { type PlaceHold, viewHold } from './hold-schemas.ts';
import { findNamed, insertHold, type Named, type StoredHold } from './hold-store.ts';

interface Placing {
  entryId: string;
  body: PlaceHold;
  /** absent: a repeat is another hold */
  key: string | undefined;
  requestId: string;
}

/** What placing a hold came to. */
interface Placed {
  hold: StoredHold;
  entry: LockedEntry;
  /** entries that were told */
  stopped: readonly { entryId: string; carNumber: string; runGroup: string }[];
  warnings: readonly string[];
}

/**
 * Takes a clearance away at once: when this returns, the gate says no, for every entry that the hold is about. An entrant
 * stops the own car; while that hold stands, a repeat is the same one.
 *
 * @throws ProblemError `not-found`, `state-moved-on` (withdrawn), `not-acceptable` (the entry names no such person),
 *   `forbidden` (an entrant, about anything but the car), `idempotency-key-reused`
 */
export async function placeHold(deps: Deps, actor: Actor, placing: Placing): Promise<Answer> {
  const { entryId, body, key } = placing;
  const about = body.about ?? 'car';
  if (actor.role === 'entrant' && about !== 'car') {
    throw new ProblemError('forbidden', 'An entrant stops the own car; the staff holds drivers and entries.');
  }
  const asked = { actor, route: `POST /v1/entries/${entryId}/holds`, key: key ?? '', body };
  if (about !== 'driver') {
    const request = key === undefined ? undefined : repeatable(asked);
    return holdCarOrEntry(deps, actor, { entryId, about, body, request, requestId: placing.requestId });
  }
  return inTransaction(deps.stops.prisma, (tx) => {
    const change = async (): Promise<Answer> => {
      const placed = await holdDriver(tx, deps, actor, placing);
      return { status: 201, body: viewHold(placed.hold, placed, placed.hold.placedAt) };
    };
    return key === undefined ? change() : once(tx, asked, change);
  });
}

/** A person is who has the id: somebody of the same name without it drives on, and is named in a warning. */
async function holdDriver(tx: Tx, deps: Deps, actor: Actor, { entryId, body, requestId }: Placing): Promise<Placed> {
  const { reason, kind = 'driving', personId = '' } = body;
  const named = await findNamed(tx, entryId, personId);
  if (named === undefined) throw notFound('entry');
  if (named.name === undefined) throw noSuchPerson(named);
  await lockPeople(tx, named.eventId, [personId], 'change');
  const naming = await lockEntries(tx, await listEntriesOfPerson(tx, named.eventId, personId), 'entry');
  const stopped = naming.filter(({ facts }) => !facts.withdrawn);
  const entry = stopped.find((one) => one.entryId === entryId) ?? (await lockEntryForChange(tx, entryId, 'entry'));
  const at = deps.clock.now();
  const hold = await insertHold(tx, { entryId, about: 'driver', kind, carId: undefined, personId, reason, actor, at });
  const event = { type: 'held', holdId: hold.holdId, reason, driver: true } as const;
  for (const one of stopped) {
    await recordEntryHistory(tx, one, {
      actor,
      at,
      action: 'hold.placed',
      happening: event,
      data: { kind },
      requestId,
    });
  }
  await notifyAll(tx, stopped, hold, requestId);
  const warnings = named.namesakes.map(
    ({ carNumber, runGroup }) =>
      `Car ${carNumber} in ${runGroup} names somebody of the same name without this id: not held.`,
  );
  return { hold, entry, stopped, warnings };
}

function noSuchPerson({ personIds }: Named): ProblemError {
  const known = personIds.length === 0 ? 'Nobody on this entry has an id.' : `Known here: ${personIds.join(', ')}.`;
  const detail = `The entry names no person with this id. ${known}`;
  return new ProblemError('not-acceptable', detail, {
    errors: [{ pointer: '/personId', code: 'unknown-person', detail, in: 'body' }],
  });
}

async function notifyAll(
  tx: Tx,
  entries: readonly { entryId: string }[],
  { holdId: id, entryId: placedAt }: StoredHold,
  requestId: string,
): Promise<void> {
  for (const { entryId } of entries) {
    const also = entryId === placedAt ? {} : { also: true as const };
    await notifyEntrant(tx, { entryId, kind: 'hold.placed', id, ...also, requestId });
  }
}
