import { v7 as uuidV7 } from 'uuid';
import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { once, rememberPart, repeatable, type Repeatable, replayKept } from '../../http/frame/idempotency.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import type { Answer } from '../../http/frame/route.ts';
import { inTransaction, type Tx } from '../../platform/database/db.ts';
import {
  inPlainTransaction,
  mustChange,
  type Statement,
  writeAtOnce,
} from '../../platform/database/plain-transaction.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';
import { OUTBOX_NOTIFY, type OutboxEntry, outboxPart } from '../../platform/queue/outbox.ts';
import {
  appendToCar,
  appendToEntry,
  carHeadPart,
  entryHeadPart,
  historyNotify,
  historyPart,
  type HistoryRow,
  recordEntryHistory,
} from '../../records/history/history.ts';
import { listEntriesOfPerson, lockPeople } from '../../records/locks/driver-holds.ts';
import {
  entryWithdrawn,
  lockAndRead,
  type LockedEntry,
  lockEntries,
  lockEntryForChange,
  toEntry,
} from '../../records/locks/entry-lock.ts';
import { entrantNotice, notifyEntrant } from '../../records/notify-entrant.ts';
import { type PlaceHold, viewHold } from './hold-schemas.ts';
import {
  type CarEntry,
  findNamed,
  holdPart,
  type HoldRow,
  insertHold,
  type Named,
  readForHold,
  type StoredHold,
} from './hold-store.ts';

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

interface Holding {
  entryId: string;
  about: 'car' | 'entry';
  body: PlaceHold;
  /** absent: a repeat is another hold */
  request: Repeatable | undefined;
  requestId: string;
}

/** Holds a car, or one entry, in three statements: the lock, what decides, the write. @throws as `placeHold` */
async function holdCarOrEntry(deps: Deps, actor: Actor, holding: Holding): Promise<Answer> {
  const { entryId, about, request } = holding;
  const level = about === 'car' ? 'change' : 'decide';
  return inPlainTransaction(deps.stops.pool, async (tx) => {
    const at = { entry: Prisma.sql`${entryId}::uuid`, level } as const;
    const row = await lockAndRead(tx, at, () => readForHold(tx, { entryId, request, clock: deps.clock }));
    if (row === undefined) throw notFound('entry');
    const replayed = replayKept(row, request);
    if (replayed !== undefined) return replayed;
    const { answer, parts, notify } = decide(row, actor, holding);
    if (Object.keys(parts).length === 0) return answer;
    const remembered = request === undefined ? Prisma.sql`1 AS remembered` : mustChange('remembered');
    await tx.commitWith(writeAtOnce(parts, Prisma.sql`${remembered}${notify}`));
    return answer;
  });
}

/** A new hold with all that it changes, or the one that the entrant has on the own car already. */
function decide(
  row: HoldRow,
  actor: Actor,
  holding: Holding,
): { answer: Answer; parts: Record<string, Statement>; notify: Statement } {
  const { about, request } = holding;
  const entry = toEntry(row);
  if (entry.facts.withdrawn) throw entryWithdrawn();
  const stopped = about === 'car' ? row.stopped : [{ ...entry, sticker: null }];
  const own = about === 'car' && actor.role === 'entrant' ? row.own : null;
  const hold = own === null ? newHold(actor, holding, entry, row.now) : { ...own, placedAt: new Date(own.placedAt) };
  const history = own === null ? recordHold(actor, holding, { entry, hold, stickers: row.stickers }) : [];
  const view = viewHold(hold, { entry, stopped, vehicle: row.vehicle }, row.now);
  const answer = { status: 201, bodyText: JSON.stringify(view) };
  const remembered: Record<string, Statement> =
    request === undefined ? {} : { remembered: rememberPart(request, answer) };
  if (own !== null) return { answer, parts: remembered, notify: Prisma.empty };
  const parts = { ...remembered, ...writeHold(holding, { entry, hold, stopped, history }) };
  return { answer, parts, notify: Prisma.sql`, ${historyNotify(entry.eventId)}, ${OUTBOX_NOTIFY}` };
}

/** A hold that is still to be written. */
export function newHold(
  actor: Actor,
  { about, body, entryId }: Pick<Holding, 'about' | 'body' | 'entryId'>,
  entry: LockedEntry,
  placedAt: Date,
): StoredHold {
  return {
    holdId: uuidV7(),
    entryId,
    about,
    kind: body.kind ?? 'other',
    carId: about === 'car' ? entry.car.carId : null,
    personId: null,
    byEntrant: actor.role === 'entrant',
    reason: body.reason,
    placedBy: actor.name,
    placedById: actor.tokenId,
    placedAt,
    lifted: undefined,
    requiresReinspection: false,
  };
}

interface Held {
  entry: LockedEntry;
  hold: StoredHold;
}

/** The row of the subject that is held, which is brought up to date. */
export function recordHold(
  actor: Actor,
  { about, requestId }: Pick<Holding, 'about' | 'requestId'>,
  { entry, hold, stickers }: Held & { stickers: readonly string[] },
): HistoryRow[] {
  const { holdId, reason, kind, placedAt: at, entryId } = hold;
  const what = { actor, at, action: 'hold.placed', data: { kind }, requestId };
  if (about === 'entry') return [appendToEntry(entry, { ...what, happening: { type: 'held', holdId, reason } })];
  const event = { type: 'car-held', holdId, reason, entryId, runGroup: entry.runGroup, stickers } as const;
  const row = appendToCar(entry.car, { ...what, happening: event });
  return row === undefined ? [] : [row];
}

function writeHold(
  { about, requestId }: Holding,
  { entry, hold, stopped, history }: Held & { stopped: readonly CarEntry[]; history: readonly HistoryRow[] },
): Record<string, Statement> {
  return {
    held: holdPart(hold),
    appended: historyPart(history),
    folded: about === 'car' ? carHeadPart(entry.car) : entryHeadPart(entry),
    ordered: outboxPart(jobsAfterHold(hold, stopped, requestId)),
  };
}

/** Messages to everybody whose car it stops. */
export function jobsAfterHold(
  { holdId: id, entryId: placedAt }: StoredHold,
  stopped: readonly CarEntry[],
  requestId: string,
): OutboxEntry[] {
  return stopped.map(({ entryId }) => {
    const also = entryId === placedAt ? {} : { also: true as const };
    return entrantNotice({ entryId, kind: 'hold.placed', id, ...also, requestId });
  });
}
