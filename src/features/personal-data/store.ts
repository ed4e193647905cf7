import { personKey } from '../../domain/actor.ts';
import type { Origins } from '../../domain/car/car-facts.ts';
import type { PlainDate } from '../../domain/calendar.ts';
import type { Tx } from '../../platform/database/db.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';

/** What stands in the place of an erased name. */
export const ERASED = 'erased';

/** What deciding about an erasure needs to know of a locked entry. */
export interface ErasableEntry {
  endsOn: PlainDate;
  timeZone: string;
  erasedAt: Date | undefined;
  entrant: { name: string; personId?: string; email?: string; phone?: string };
  people: readonly { name: string; personId?: string }[];
}

export async function findErasable(db: Tx, entryId: string): Promise<ErasableEntry | undefined> {
  const row = await db.entry.findUnique({
    where: { id: entryId },
    include: { event: { select: { endsOn: true, venue: { select: { timeZone: true } } } } },
  });
  if (row === null) return undefined;
  return {
    endsOn: row.event.endsOn.toISOString().slice(0, 10),
    timeZone: row.event.venue.timeZone,
    erasedAt: row.erasedAt ?? undefined,
    // both are written by us only, from typed values
    entrant: row.entrant as ErasableEntry['entrant'],
    people: row.people as unknown as ErasableEntry['people'],
  };
}

/** Names under which an entry's tokens were given out. */
export async function listHolders(db: Tx, entryId: string): Promise<string[]> {
  const rows = await db.token.findMany({ where: { entryId }, select: { holder: true }, distinct: ['holder'] });
  return rows.map((row) => row.holder);
}

/**
 * Takes the people off the entry and their names off what they did, revokes their tokens, removes photos and the draft,
 * and forgets answers kept for repeated requests, which may hold names. Returns how many photos it removed and whether
 * anything was left to do.
 *
 * @param keys folded names (`personKey`) of the people of the entry: whoever has one is erased from its records, also
 *   where that person acted for the staff
 */
export async function updateErased(
  tx: Tx,
  entryId: string,
  { keys, at }: { keys: ReadonlySet<string>; at: Date },
): Promise<{ photos: number; changed: boolean }> {
  const names = await listNamesOf(tx, entryId, keys);
  const counts = [
    await eraseEntry(tx, entryId, at),
    await eraseTokens(tx, entryId, at),
    await eraseLinks(tx, entryId, { keys, at }),
    await eraseFromCar(tx, entryId, keys),
    await eraseNames(tx, entryId, names),
    await tx.$executeRaw`DELETE FROM mails WHERE entry_id = ${entryId}::uuid`,
    (await tx.mailStop.deleteMany({ where: { entryId } })).count,
    (await tx.mailUnsaid.deleteMany({ where: { entryId } })).count,
    await eraseShops(tx, entryId, at),
    (await tx.draft.deleteMany({ where: { entryId } })).count,
    await forgetAnswers(tx, entryId),
    await forgetImportRows(tx, entryId),
  ];
  const photos = await tx.photo.updateMany({ where: { entryId, removedAt: null }, data: { removedAt: at } });
  return { photos: photos.count, changed: photos.count > 0 || counts.some((count) => count > 0) };
}

async function eraseEntry(tx: Tx, entryId: string, at: Date): Promise<number> {
  return tx.$executeRaw`
    UPDATE entries SET entrant = jsonb_build_object('name', ${ERASED}::text), people = '[]', person_keys = '{}', person_ids = '{}',
      erased_at = COALESCE(erased_at, ${at}::timestamptz), rev = rev + 1
    WHERE id = ${entryId}::uuid
      AND (erased_at IS NULL OR entrant <> jsonb_build_object('name', ${ERASED}::text) OR people <> '[]')`;
}

async function eraseTokens(tx: Tx, entryId: string, at: Date): Promise<number> {
  return tx.$executeRaw`
    UPDATE tokens SET holder = ${ERASED}, holder_key = ${ERASED}, revoked_at = COALESCE(revoked_at, ${at}::timestamptz)
    WHERE entry_id = ${entryId}::uuid AND (holder <> ${ERASED} OR revoked_at IS NULL)`;
}

/** Links of the car in the hands of the people of this entry; another owner's stay. */
async function eraseLinks(
  tx: Tx,
  entryId: string,
  { keys, at }: { keys: ReadonlySet<string>; at: Date },
): Promise<number> {
  return tx.$executeRaw`
    UPDATE tokens SET holder = ${ERASED}, holder_key = ${ERASED}, revoked_at = COALESCE(revoked_at, ${at}::timestamptz)
    WHERE vehicle_id = (SELECT vehicle_id FROM entries WHERE id = ${entryId}::uuid) AND holder_key = ANY (${[...keys]}::text[])`;
}

/** The car keeps its facts; who of these people said them is forgotten. */
async function eraseFromCar(tx: Tx, entryId: string, keys: ReadonlySet<string>): Promise<number> {
  const [car] = await tx.$queryRaw<{ id: string; origins: Origins }[]>`
    SELECT v.id, v.origins FROM vehicles v JOIN entries e ON e.vehicle_id = v.id WHERE e.id = ${entryId}::uuid FOR UPDATE OF v`;
  if (car === undefined) return 0;
  const known = Object.entries(car.origins);
  const isOfThem = (name: string): boolean => name !== ERASED && keys.has(personKey(name));
  if (!known.some(([, { by }]) => isOfThem(by.name))) return 0;
  const origins = Object.fromEntries(
    known.map(([path, from]) => [
      path,
      isOfThem(from.by.name) ? { ...from, by: { as: from.by.as, name: ERASED } } : from,
    ]),
  );
  return tx.$executeRaw`UPDATE vehicles SET origins = ${JSON.stringify(origins)}::jsonb WHERE id = ${car.id}::uuid`;
}

// Rows of history and inspections never change but for this: a trigger allows it for the name alone.
async function eraseNames(tx: Tx, entryId: string, names: readonly string[]): Promise<number> {
  const history = await tx.$executeRaw`
    UPDATE history SET actor_name = ${ERASED}
    WHERE entry_id = ${entryId}::uuid AND actor_name <> ${ERASED}
      AND (actor_role IN ('entrant', 'shop') OR actor_name = ANY (${names}::text[]))`;
  // What is said of the car has rows of its own; other people's names there stay.
  const ofCar = await tx.$executeRaw`
    UPDATE history SET actor_name = ${ERASED}
    WHERE car_id = (SELECT car_id FROM clearances WHERE entry_id = ${entryId}::uuid) AND actor_name <> ${ERASED}
      AND (actor_id IN (SELECT id FROM tokens WHERE entry_id = ${entryId}::uuid) OR actor_name = ANY (${names}::text[]))`;
  const holds = await tx.$executeRaw`
    UPDATE holds SET person_id = NULL, placed_name = CASE WHEN by_entrant OR placed_name = ANY (${names}::text[])
      THEN ${ERASED} ELSE placed_name END
    WHERE entry_id = ${entryId}::uuid AND (person_id IS NOT NULL OR (placed_name <> ${ERASED}
      AND (by_entrant OR placed_name = ANY (${names}::text[]))))`;
  const inspections = await tx.$executeRaw`
    UPDATE inspections SET submitted_name = ${ERASED}
    WHERE entry_id = ${entryId}::uuid AND submitted_name <> ${ERASED}
      AND (submitted_by IN (SELECT id FROM tokens WHERE entry_id = ${entryId}::uuid) OR submitted_name = ANY (${names}::text[]))`;
  const photos = await tx.$executeRaw`
    UPDATE photos SET uploaded_name = ${ERASED}
    WHERE entry_id = ${entryId}::uuid AND uploaded_name <> ${ERASED}
      AND (uploaded_role = 'entrant' OR uploaded_name = ANY (${names}::text[]))`;
  const log = await tx.$executeRaw`
    UPDATE session_log SET written_name = ${ERASED}
    WHERE entry_id = ${entryId}::uuid AND written_name <> ${ERASED}
      AND (written_role = 'entrant' OR written_name = ANY (${names}::text[]))`;
  // A condition is done by the entrant where the log closed it.
  const conditions = await tx.$executeRaw`
    UPDATE conditions SET done_name = ${ERASED}
    WHERE entry_id = ${entryId}::uuid AND done_name <> ${ERASED}
      AND (done_by IN (SELECT id FROM tokens WHERE entry_id = ${entryId}::uuid) OR done_name = ANY (${names}::text[]))`;
  return history + ofCar + holds + inspections + photos + log + conditions;
}

/**
 * Who prepared the car signed by name, and the owner wrote down who that was. A shop that has no other car that is still
 * kept is forgotten with the last one.
 */
async function eraseShops(tx: Tx, entryId: string, at: Date): Promise<number> {
  const signatures = await tx.$executeRaw`
    UPDATE shop_signatures SET name = ${ERASED}, shop_name = ${ERASED}, answers = '{}'
    WHERE entry_id = ${entryId}::uuid AND (name <> ${ERASED} OR shop_name <> ${ERASED} OR answers <> '{}')`;
  const links = await tx.$executeRaw`
    UPDATE shop_links SET shop_name = ${ERASED}, answers = '{}', ended_at = COALESCE(ended_at, ${at}::timestamptz),
      rev = rev + 1
    WHERE entry_id = ${entryId}::uuid AND (shop_name <> ${ERASED} OR ended_at IS NULL)`;
  const isLast = Prisma.sql`s.id IN (SELECT shop_id FROM shop_links WHERE entry_id = ${entryId}::uuid)
    AND NOT EXISTS (SELECT 1 FROM shop_links o JOIN entries oe ON oe.id = o.entry_id
      WHERE o.shop_id = s.id AND oe.erased_at IS NULL)`;
  const tokens = await tx.$executeRaw`
    UPDATE tokens SET holder = ${ERASED}, holder_key = ${ERASED}, revoked_at = COALESCE(revoked_at, ${at}::timestamptz)
    WHERE shop_id IN (SELECT s.id FROM shops s WHERE ${isLast}) AND (holder <> ${ERASED} OR revoked_at IS NULL)`;
  const shops = await tx.$executeRaw`UPDATE shops s SET name = ${ERASED} WHERE s.name <> ${ERASED} AND ${isLast}`;
  return signatures + links + tokens + shops;
}

async function forgetAnswers(tx: Tx, entryId: string): Promise<number> {
  const about = `%${entryId}%`;
  return tx.$executeRaw`
    DELETE FROM idempotency
    WHERE route LIKE ${about} OR body::text LIKE ${about}
      OR principal IN (SELECT id FROM tokens WHERE entry_id = ${entryId}::uuid)`;
}

/** Rows of a file about this entry that wait to be written: they would bring back who was erased. */
async function forgetImportRows(tx: Tx, entryId: string): Promise<number> {
  const errors = [{ code: 'erased', detail: 'The people of this entry were erased before the row was written.' }];
  return tx.$executeRaw`
    UPDATE import_rows r SET data = NULL, outcome = jsonb_build_object('row', r.row, 'carNumber', r.car_number,
      'outcome', 'rejected', 'entryId', e.id, 'errors', ${JSON.stringify(errors)}::jsonb)
    FROM tasks t, entries e
    WHERE e.id = ${entryId}::uuid AND t.id = r.task_id AND t.subject_id = e.event_id AND r.data IS NOT NULL
      AND r.car_number = e.car_number AND (r.run_group_id IS NULL OR r.run_group_id = e.run_group_id)`;
}

/** How the people of an entry are written in its records: the same person written twice compares equal. */
async function listNamesOf(tx: Tx, entryId: string, keys: ReadonlySet<string>): Promise<string[]> {
  const rows = await tx.$queryRaw<{ name: string }[]>`
    SELECT actor_name AS name FROM history WHERE entry_id = ${entryId}::uuid
      OR car_id = (SELECT car_id FROM clearances WHERE entry_id = ${entryId}::uuid)
    UNION SELECT submitted_name FROM inspections WHERE entry_id = ${entryId}::uuid
    UNION SELECT uploaded_name FROM photos WHERE entry_id = ${entryId}::uuid
    UNION SELECT written_name FROM session_log WHERE entry_id = ${entryId}::uuid`;
  return rows.map((row) => row.name).filter((name) => name !== ERASED && keys.has(personKey(name)));
}

/** Where free text about an entry still holds one of these words. */
export async function listMentions(
  tx: Tx,
  entryId: string,
  words: readonly string[],
): Promise<{ place: string; count: number }[]> {
  if (words.length === 0) return [];
  return tx.$queryRaw<{ place: string; count: number }[]>`
    WITH texts AS (
      SELECT 'history' AS place, data::text AS text FROM history WHERE entry_id = ${entryId}::uuid
        OR car_id = (SELECT car_id FROM clearances WHERE entry_id = ${entryId}::uuid)
      UNION ALL SELECT 'answers', answers::text FROM inspections WHERE entry_id = ${entryId}::uuid
      UNION ALL SELECT 'log', concat_ws(' ', session, content::text) FROM session_log WHERE entry_id = ${entryId}::uuid
      UNION ALL SELECT 'vehicle', i.vehicle::text FROM inspections i WHERE i.entry_id = ${entryId}::uuid
      UNION ALL SELECT 'vehicle', v.record::text FROM vehicles v JOIN entries e ON e.vehicle_id = v.id
        WHERE e.id = ${entryId}::uuid
      UNION ALL SELECT 'sign-offs', concat_ws(' ', note, checks::text) FROM sign_offs WHERE entry_id = ${entryId}::uuid
      UNION ALL SELECT 'conditions', concat_ws(' ', text, done_note) FROM conditions WHERE entry_id = ${entryId}::uuid
      UNION ALL SELECT 'holds', concat_ws(' ', reason, lift_reason, lift_exception, lift_checks::text) FROM holds
        WHERE entry_id = ${entryId}::uuid OR car_id = (SELECT car_id FROM clearances WHERE entry_id = ${entryId}::uuid)
      UNION ALL SELECT 'concessions', concat_ws(' ', reason, condition, revoke_reason) FROM concessions
        WHERE entry_id = ${entryId}::uuid
    )
    SELECT place, count(*)::int AS count FROM texts
    WHERE EXISTS (SELECT 1 FROM unnest(${words}::text[]) AS w (word) WHERE position(lower(w.word) IN lower(text)) > 0)
    GROUP BY place ORDER BY place`;
}

/** Other entries that name one of these people: each is erased on its own. */
export async function listOtherEntries(tx: Tx, entryId: string, keys: ReadonlySet<string>): Promise<string[]> {
  const rows = await tx.$queryRaw<{ id: string }[]>`
    SELECT id FROM entries WHERE id <> ${entryId}::uuid AND person_keys && ${[...keys]}::text[] ORDER BY id`;
  return rows.map((row) => row.id);
}

/** Some entries whose event is over for longer than it keeps personal data; `after` is the last id seen. */
export async function listOverdue(db: Tx, now: Date, after: string | undefined, take: number): Promise<string[]> {
  const rows = await db.$queryRaw<{ id: string }[]>`
    WITH over AS MATERIALIZED (
      SELECT v.id FROM events v JOIN venues p ON p.id = v.venue_id
      WHERE (${now}::timestamptz AT TIME ZONE p.time_zone)::date > v.ends_on + v.retention_days
    )
    SELECT e.id FROM over CROSS JOIN LATERAL (
      -- as in the index of those whose people are on record, which is all that is looked at of an event
      SELECT n.id FROM entries n
      WHERE n.event_id = over.id AND (n.erased_at IS NULL OR n.entrant <> '{"name": "erased"}'::jsonb)
        AND n.id > COALESCE(${after ?? null}::uuid, '00000000-0000-0000-0000-000000000000'::uuid)
      ORDER BY n.id LIMIT ${take}
    ) e
    ORDER BY e.id LIMIT ${take}`;
  return rows.map((row) => row.id);
}

/**
 * Everything on record about an entry; undefined when there is no such entry. One query after the other: inside a
 * transaction the driver can run no two at once.
 */
export async function findEverything(tx: Tx, entryId: string) {
  const entry = await tx.entry.findUnique({ where: { id: entryId } });
  if (entry === null) return undefined;
  const { eventId, carNumber, runGroupId, vehicleId } = entry;
  const where = { entryId };
  const byId = { where, orderBy: { id: 'asc' } } as const;
  return {
    ...entry,
    event: await tx.event.findUniqueOrThrow({ where: { id: eventId }, include: { venue: true } }),
    runGroup: await tx.runGroup.findUniqueOrThrow({ where: { id: runGroupId } }),
    vehicle: await tx.vehicle.findUniqueOrThrow({ where: { id: vehicleId } }),
    draft: await tx.draft.findUnique({ where }),
    tokens: await tx.token.findMany(byId),
    inspections: await tx.inspection.findMany({ where, orderBy: { revision: 'asc' } }),
    signOffs: await tx.signOff.findMany({ where, orderBy: { signedAt: 'asc' } }),
    conditions: await tx.condition.findMany(byId),
    holds: await tx.hold.findMany(byId),
    concessions: await tx.concession.findMany(byId),
    history: await tx.history.findMany({ where, orderBy: { seq: 'asc' } }),
    shopLinks: await tx.shopLink.findMany({ ...byId, include: { signatures: { orderBy: { signedAt: 'asc' } } } }),
    photos: await tx.photo.findMany(byId),
    log: await tx.sessionLog.findMany(byId),
    notifications: await tx.notification.findMany({ where, orderBy: { createdAt: 'asc' } }),
    mails: await tx.mail.findMany(byId),
    mailStop: await tx.mailStop.findUnique({ where }),
    gateChecks: await tx.gateCheck.findMany({
      where: { eventId, carNumber, OR: [{ runGroupId: null }, { runGroupId }] },
      orderBy: { askedAt: 'asc' },
    }),
  };
}

export type Everything = NonNullable<Awaited<ReturnType<typeof findEverything>>>;
