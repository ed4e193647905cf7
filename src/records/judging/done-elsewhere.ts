import type { OtherAcceptance } from '../../domain/line/done-elsewhere.ts';
import type { Tx } from '../../platform/database/db.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';
import { CONCERNED, type Concerned, conflictOf, type Decider } from '../conflict-of-interest.ts';

/** An acceptance with who gave it, and whom the entry concerns that it would count for. */
export type ReadAcceptance = OtherAcceptance & { signer: Decider; concerned: Concerned };

/** Left out are those by somebody who may not decide on this entry. */
export const byOthers = (read: readonly ReadAcceptance[]): OtherAcceptance[] =>
  read
    .filter(({ signer, concerned }) => conflictOf(signer, concerned) === undefined)
    .map(({ signer: _signer, concerned: _concerned, ...acceptance }) => acceptance);

/**
 * In SQL, the acceptances that stand at the other entries of a car, oldest first (`ReadAcceptance[]`: ask `byOthers` for those that count), given to it as it is
 * now: a swap of the vehicle, a recall, going back to the line and another declaration void them. Left out are those from
 * before a recall of the car at whichever entry. `c`, `k` and `e`
 * are clearance, car and entry of the statement around it.
 */
export const otherAcceptances = (now: Prisma.Sql): Prisma.Sql => Prisma.sql`
  COALESCE((
    SELECT jsonb_agg(jsonb_build_object('signOffId', os.id, 'runGroup', og.name, 'by', os.signed_name,
      'at', to_char(os.signed_at AT TIME ZONE 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS.MS"Z"'), 'checks', os.checks,
      'findings', os.findings, 'concerned', ${CONCERNED},
      'signer', jsonb_build_object('tokenId', os.signed_by, 'name', ok.holder, 'personId', ok.person_id),
      'holds', COALESCE((SELECT jsonb_agg(oh.kind) FROM holds oh JOIN clearances hc ON hc.entry_id = oh.entry_id
        WHERE hc.car_id = k.id AND oh.placed_at >= os.signed_at), '[]'::jsonb),
      'refusals', COALESCE((SELECT jsonb_agg(jsonb_build_object('checks', orf.checks, 'findings', orf.findings))
        FROM sign_offs orf JOIN clearances rc ON rc.entry_id = orf.entry_id
        WHERE rc.car_id = k.id AND orf.decision = 'refuse' AND orf.signed_at >= os.signed_at), '[]'::jsonb)
      ) ORDER BY os.signed_at, os.id)
    FROM clearances oc
    JOIN entries oe ON oe.id = oc.entry_id
    JOIN run_groups og ON og.id = oe.run_group_id
    JOIN sign_offs os ON os.id = (oc.facts #>> '{signOff,signOffId}')::uuid
    JOIN tokens ok ON ok.id = os.signed_by
    JOIN history ow ON ow.entry_id = oc.entry_id AND ow.action = 'entry.signed-off'
      AND ow.data #>> '{event,signOffId}' = os.id::text
    WHERE oc.car_id = k.id AND oc.entry_id <> c.entry_id AND os.decision <> 'refuse'
      AND oc.facts ->> 'withdrawn' = 'false' AND (oc.facts #>> '{signOff,validUntil}')::timestamptz > ${now}
      AND NOT EXISTS (SELECT 1 FROM history r WHERE r.car_id = k.id
        AND r.data #>> '{event,type}' = 'car-recalled' AND r.seq > COALESCE((ow.data ->> 'carSeq')::int, 0))
  ), '[]'::jsonb)`;

/** The same for an entry that is only looked at. */
export async function listOtherAcceptances(db: Tx, entryId: string, now: Date): Promise<OtherAcceptance[]> {
  // `checks` and `findings` are written by the sign-off only, from typed values
  const rows = await db.$queryRaw<{ others: ReadAcceptance[] }[]>`
    SELECT ${otherAcceptances(Prisma.sql`${now}::timestamptz`)} AS others
    FROM clearances c JOIN car_clearances k ON k.id = c.car_id JOIN entries e ON e.id = c.entry_id
    WHERE c.entry_id = ${entryId}::uuid`;
  return byOthers(rows[0]?.others ?? []);
}
