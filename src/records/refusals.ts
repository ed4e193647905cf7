import type { MadeCheck, StandingRefusal } from '../domain/refused-points.ts';
import type { Finding } from '../domain/rules/finding.ts';
import type { Tx } from '../platform/db.ts';
import { Prisma } from '../platform/prisma-client/client.ts';

/** The same as `listStandingRefusals` in one value, for the car `k` of the statement around it. */
export const STANDING_REFUSALS = Prisma.sql`
  COALESCE((
    SELECT jsonb_agg(jsonb_build_object('runGroup', r->>'runGroup', 'note', COALESCE(rs.note, ''), 'checks', rs.checks,
      'findings', rs.findings) ORDER BY rs.id DESC)
    FROM jsonb_array_elements(k.facts->'refusals') r JOIN sign_offs rs ON rs.id = (r->>'signOffId')::uuid
  ), '[]'::jsonb)`;

/** What the line refused the car of an entry for, at whichever of its entries, and has not accepted since; newest first. */
export async function listStandingRefusals(db: Tx, entryId: string): Promise<StandingRefusal[]> {
  // `checks` and `findings` are written by the sign-off only, from typed values
  return db.$queryRaw<{ runGroup: string; note: string; checks: MadeCheck[]; findings: Finding[] }[]>`
    SELECT r->>'runGroup' AS "runGroup", COALESCE(s.note, '') AS note, s.checks, s.findings
    FROM clearances c JOIN car_clearances k ON k.id = c.car_id
    CROSS JOIN LATERAL jsonb_array_elements(k.facts->'refusals') r
    JOIN sign_offs s ON s.id = (r->>'signOffId')::uuid
    WHERE c.entry_id = ${entryId}::uuid ORDER BY s.id DESC`;
}
