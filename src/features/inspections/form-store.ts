import type { Tx } from '../../platform/db.ts';

/** The newest revision of the same car at the last event before this one, with what the line measured of it. */
export interface EarlierDeclaration {
  event: string;
  endsOn: string;
  answers: Record<string, unknown>;
  checks: readonly { item: string; position?: string; value?: unknown }[] | null;
  /** entered by the same person as now */
  samePerson: boolean;
}

export async function findEarlierDeclaration(db: Tx, entryId: string): Promise<EarlierDeclaration | undefined> {
  const rows = await db.$queryRaw<EarlierDeclaration[]>`
    SELECT o.name AS event, to_char(o.ends_on, 'YYYY-MM-DD') AS "endsOn", i.answers, s.checks,
           (oe.erased_at IS NULL AND oe.entrant->>'name' = e.entrant->>'name') AS "samePerson"
    FROM entries e
    JOIN events ev ON ev.id = e.event_id
    JOIN entries oe ON oe.vehicle_id = e.vehicle_id AND oe.event_id <> e.event_id
    JOIN events o ON o.id = oe.event_id AND o.ends_on < ev.starts_on
    JOIN inspections i ON i.entry_id = oe.id
    LEFT JOIN LATERAL (
      SELECT checks FROM sign_offs WHERE inspection_id = i.id ORDER BY signed_at DESC, id DESC LIMIT 1
    ) s ON true
    WHERE e.id = ${entryId}::uuid
    ORDER BY o.ends_on DESC, i.submitted_at DESC, i.id DESC
    LIMIT 1`;
  return rows[0];
}

export async function getEventName(db: Tx, eventId: string): Promise<string> {
  return (await db.event.findUniqueOrThrow({ where: { id: eventId }, select: { name: true } })).name;
}
