import type { Verdict } from '../domain/rules/finding.ts';
import type { ParameterOverride } from '../domain/rules/rule-set.ts';
import type { StoredFinding } from '../domain/rules/trial.ts';
import type { Vehicle } from '../domain/vehicle.ts';
import type { TrialSubject } from '../http/trial-view.ts';
import type { Tx } from '../platform/db.ts';
import { Prisma } from '../platform/prisma-client/client.ts';
import type { StoredInspection } from './inspections.ts';

/** A submitted revision with what a trial of other rules needs of it. */
export interface TrialInspection extends TrialSubject {
  answers: unknown;
  vehicle: Vehicle;
  context: StoredInspection['context'];
  ruleSetId: string;
  ruleSetVersion: number;
  resolvedHash: string | null;
  parameters: Record<string, ParameterOverride>;
  verdict: Verdict;
  /** the stored judgement had a concession */
  hadConcession: boolean;
  /** the stored findings in short: see `readTrialInspections` */
  findings: string;
}

/** The newest revisions of the entries of events, or of one run group, in the order of lists: event, group, number. */
export async function listNewestInspections(
  db: Tx,
  of: { eventIds: readonly string[] } | { runGroupId: string },
): Promise<string[]> {
  const where =
    'runGroupId' in of
      ? Prisma.sql`e.run_group_id = ${of.runGroupId}::uuid`
      : Prisma.sql`e.event_id = ANY (${[...of.eventIds]}::uuid[])`;
  const rows = await db.$queryRaw<{ id: string }[]>`
    SELECT i.id
    FROM entries e
    JOIN events ev ON ev.id = e.event_id
    JOIN run_groups g ON g.id = e.run_group_id
    CROSS JOIN LATERAL (
      SELECT id FROM inspections WHERE entry_id = e.id ORDER BY revision DESC LIMIT 1
    ) i
    WHERE ${where}
    ORDER BY ev.starts_on, ev.id, g.sort_order, g.name, e.car_number`;
  return rows.map((row) => row.id);
}

/** A `TrialInspection` as JSON, with what names the rules that judged it beside it. */
export interface TrialRow
  extends Pick<TrialInspection, 'runGroupId' | 'hadConcession' | 'ruleSetId' | 'ruleSetVersion' | 'resolvedHash'> {
  json: string;
}

/**
 * Reads revisions, in the order asked, as JSON that is parsed where they are judged. Whole findings are ten times as much
 * as all the rest, and a trial needs little of them, so only that is read: a line each, without control characters in it,
 * because titles are free text.
 */
export async function readTrialInspections(db: Tx, ids: readonly string[]): Promise<TrialRow[]> {
  if (ids.length === 0) return [];
  return db.$queryRaw<TrialRow[]>`
    SELECT "runGroupId", "hadConcession", "ruleSetId", "ruleSetVersion", "resolvedHash", to_jsonb(r)::text AS json
    FROM (SELECT wanted.place, i.id AS "inspectionId", i.entry_id AS "entryId", e.car_number AS "carNumber", e.event_id AS "eventId",
           e.run_group_id AS "runGroupId", i.answers, i.vehicle, i.context, i.rule_set_id AS "ruleSetId",
           i.rule_set_version AS "ruleSetVersion", i.resolved_hash AS "resolvedHash", i.parameters, i.verdict,
           EXISTS (SELECT 1 FROM sign_offs s WHERE s.inspection_id = i.id AND s.decision <> 'refuse') AS accepted,
           f.findings, f.had_concession AS "hadConcession"
    FROM unnest(${[...ids]}::uuid[]) WITH ORDINALITY AS wanted (id, place)
    JOIN inspections i ON i.id = wanted.id
    JOIN entries e ON e.id = i.entry_id
    CROSS JOIN LATERAL (
      SELECT COALESCE(string_agg(concat_ws(E'\\x1f', "ruleId", COALESCE("position", ''), result, counts,
               translate(title, E'\\x1e\\x1f', '')), E'\\x1e' ORDER BY place), '') AS findings,
             COALESCE(bool_or(conceded IS NOT NULL), false) AS had_concession
      FROM ROWS FROM (jsonb_to_recordset(i.findings) AS
             ("ruleId" text, "position" text, result text, counts text, title text, conceded jsonb)) WITH ORDINALITY
             AS finding ("ruleId", "position", result, counts, title, conceded, place)
    ) f) r
    ORDER BY place`;
}

/** The stored findings of some rules, by inspection. */
export async function readWholeFindings(
  db: Tx,
  ids: readonly string[],
  ruleIds: readonly string[],
): Promise<Map<string, StoredFinding[]>> {
  const rows = await db.$queryRaw<{ id: string; findings: StoredFinding[] }[]>`
    SELECT i.id, jsonb_agg(finding) AS findings
    FROM inspections i, jsonb_array_elements(i.findings) AS finding
    WHERE i.id = ANY (${[...ids]}::uuid[]) AND finding->>'ruleId' = ANY (${[...ruleIds]}::text[])
    GROUP BY i.id`;
  return new Map(rows.map((row) => [row.id, row.findings]));
}
