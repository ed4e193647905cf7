import { personKey } from '../../domain/actor.ts';
import type { Tx } from '../../platform/db.ts';

/** A person on an entry, by id; `name` is undefined where the entry names nobody with it. */
export interface Named {
  eventId: string;
  name: string | undefined;
  personIds: readonly string[];
  /** entries of the event that name somebody of the same name without this id */
  namesakes: readonly { carNumber: string; runGroup: string }[];
}

interface Person {
  name: string;
  personId?: string;
}

/** Looks a person up on an entry; undefined when there is no such entry. */
export async function findNamed(db: Tx, entryId: string, personId: string): Promise<Named | undefined> {
  const entry = await db.entry.findUnique({
    where: { id: entryId },
    select: { eventId: true, entrant: true, people: true },
  });
  if (entry === null) return undefined;
  // both are written by us only, from typed values
  const people = [entry.entrant, ...(entry.people as unknown[])] as Person[];
  const name = people.find((person) => person.personId === personId)?.name;
  const personIds = people.flatMap((person) => person.personId ?? []);
  return { eventId: entry.eventId, name, personIds, namesakes: await listNamesakes(db, entry.eventId, personId, name) };
}

async function listNamesakes(
  db: Tx,
  eventId: string,
  personId: string,
  name: string | undefined,
): Promise<Named['namesakes']> {
  if (name === undefined) return [];
  return db.$queryRaw`
    SELECT e.car_number AS "carNumber", g.name AS "runGroup"
    FROM entries e JOIN run_groups g ON g.id = e.run_group_id JOIN clearances c ON c.entry_id = e.id
    WHERE e.event_id = ${eventId}::uuid AND ${personKey(name)} = ANY (e.person_keys)
      AND NOT (${personId} = ANY (e.person_ids)) AND NOT (c.facts->>'withdrawn')::boolean
    ORDER BY g.sort_order, e.id`;
}
