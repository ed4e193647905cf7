import { type Concession, countingConcessions } from '../domain/concession.ts';
import type { Tx } from '../platform/db.ts';
import { Prisma } from '../platform/prisma-client/client.ts';

/** A row `c` of the table as a `Concession`, for statements that read concessions along with other things. */
export const CONCESSION_JSON = Prisma.sql`jsonb_strip_nulls(jsonb_build_object(
  'concessionId', c.id, 'ruleId', c.rule_id, 'ruleSetId', c.rule_set_id, 'ruleSetVersion', c.rule_set_version,
  'coversLaterVersions', c.covers_later_versions, 'reason', c.reason, 'condition', c.condition,
  'expiresAt', to_char(c.expires_at AT TIME ZONE 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS.MS"Z"'),
  'needsSecondPerson', c.needs_second_person, 'approved', c.approved_at IS NOT NULL,
  'revoked', c.revoked_at IS NOT NULL))`;

/** The concessions of an entry that count under a version of the rules, expired ones included. */
export async function listConcessions(
  db: Tx,
  where: { entryId: string; ruleSetId: string; ruleSetVersion: number },
): Promise<Concession[]> {
  const rows = await db.$queryRaw<{ concession: Concession }[]>`
    SELECT ${CONCESSION_JSON} AS concession FROM concessions c WHERE c.entry_id = ${where.entryId}::uuid ORDER BY c.id`;
  return countingConcessions(
    rows.map((row) => row.concession),
    where,
  );
}
