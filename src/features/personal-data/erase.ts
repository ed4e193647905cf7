import type { Deps } from '../../deps.ts';
import { type Actor, SYSTEM_ACTOR, type SystemActor, personKey } from '../../domain/actor.ts';
import { startOfNextDay } from '../../domain/calendar.ts';
import { decideClearance } from '../../domain/clearance/decide-clearance.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import { inTransaction, type Tx } from '../../platform/database/db.ts';
import { type LockedEntry, lockEntry, stateOf } from '../../records/locks/entry-lock.ts';
import { recordEntryHistory } from '../../records/history/history.ts';
import type { ErasedEntry } from './schemas.ts';
import {
  type ErasableEntry,
  ERASED,
  findErasable,
  listHolders,
  listMentions,
  listOtherEntries,
  listOverdue,
  updateErased,
} from './store.ts';

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
    await eraseEntry(deps, SYSTEM_ACTOR, { entryId, reason, force: false, requestId: undefined });
    return true;
  } catch (error) {
    deps.log.error({ error, entryId }, 'an entrant could not be erased');
    return false;
  }
}

const SHORT = 3;

export interface Erasure {
  entryId: string;
  /** for the history: no names */
  reason: string;
  /** also before the event is over, if the entry was withdrawn */
  force: boolean;
  requestId: string | undefined;
}

/**
 * Erases the people of an entry and keeps what was inspected: declarations, findings, decisions, and a history whose
 * hashes still fit, as no name is in them. Doing it again erases what was written since, and is otherwise the same as
 * once.
 *
 * @throws ProblemError `not-found`, `event-not-over`
 */
export async function eraseEntry(deps: Deps, actor: Actor | SystemActor, erasure: Erasure): Promise<ErasedEntry> {
  const now = deps.clock.now();
  return inTransaction(deps.db.prisma, async (tx) => {
    const entry = await lockEntry(tx, erasure.entryId);
    const person = await findErasable(tx, erasure.entryId);
    if (entry === undefined || person === undefined) throw notFound('entry');
    assertMay(entry, person, erasure.force, now);
    return eraseLocked(tx, actor, { entry, person, erasure, now });
  });
}

async function eraseLocked(
  tx: Tx,
  actor: Actor | SystemActor,
  what: { entry: LockedEntry; person: ErasableEntry; erasure: Erasure; now: Date },
): Promise<ErasedEntry> {
  const { entry, person, erasure, now } = what;
  const { entryId } = entry;
  const words = wordsOf(person, await listHolders(tx, entryId));
  const keys = new Set(words.names.map(personKey));
  const { photos, changed } = await updateErased(tx, entryId, { keys, at: now });
  if (changed) {
    const data = { reason: erasure.reason, photos };
    const { requestId } = erasure;
    await recordEntryHistory(tx, entry, { actor, at: now, action: 'entry.erased', data, requestId });
  }
  return {
    entryId,
    carNumber: entry.carNumber,
    erasedAt: (person.erasedAt ?? now).toISOString(),
    photosRemoved: photos,
    mentions: await listMentions(tx, entryId, [...words.names, ...words.contacts]),
    otherEntries: keys.size === 0 ? [] : await listOtherEntries(tx, entryId, keys),
  };
}

function wordsOf({ entrant, people }: ErasableEntry, holders: readonly string[]) {
  const ids = [entrant, ...people].flatMap(({ personId }) => personId ?? []);
  const names = [entrant.name, ...people.map((person) => person.name), ...holders];
  return {
    names: [...new Set(names)].filter((name) => name !== ERASED),
    // A short id stands in other words and numbers by chance.
    contacts: [entrant.email, entrant.phone, ...ids.filter((id) => id.length > SHORT)].filter(
      (contact) => contact !== undefined,
    ),
  };
}

function assertMay(entry: LockedEntry, { endsOn, timeZone }: ErasableEntry, force: boolean, now: Date): void {
  const over = startOfNextDay(endsOn, timeZone);
  if (now >= over || (force && entry.facts.withdrawn)) return;
  const detail = `The event is over at ${over.toISOString()}; before that only with "force": true and once the entry is withdrawn.`;
  throw new ProblemError('event-not-over', detail, { currentState: decideClearance(stateOf(entry), now).status });
}
