import { KEPT_COLUMNS, keptJoin, type KeptRow, type Repeatable } from '../../http/frame/idempotency.ts';
import type { Actor } from '../../domain/actor.ts';
import type { Said } from '../../domain/declaration/basis.ts';
import { type Clock, decisionTimePart } from '../../platform/clock.ts';
import type { Pool, Tx } from '../../platform/database/db.ts';
import { type OnConnection, type PlainTx, runPrepared } from '../../platform/database/plain-transaction.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';
import { ENTRY_COLUMNS, ENTRY_JOINS, type EntryRow } from '../../records/locks/entry-lock.ts';
import type { JudgedWith } from '../../records/judging/judge-entry.ts';
import {
  CONTEXT_COLUMNS,
  type ContextRow,
  contextStatement,
  type VenueDetails,
  venueFacts,
} from '../../records/judging/judging-context.ts';
import type { RulesRef } from '../../records/judging/rules.ts';
import { type Signature, SIGNATURES } from '../../records/evidence.ts';
import { placeOfNew } from '../../records/tickets.ts';

export interface Draft {
  answers: Record<string, unknown>;
  /** which answers a shop signed */
  said: Said;
  /** 0 when nothing is saved yet */
  rev: number;
}

export async function getDraft(db: Tx, entryId: string): Promise<Draft> {
  const row = await db.draft.findUnique({ where: { entryId } });
  if (row === null) return { answers: {}, said: {}, rev: 0 };
  // both are written by us only
  return { answers: row.answers as Record<string, unknown>, said: row.said as Said, rev: row.rev };
}

/** What a draft is judged by, and the version that is saved; 0 when nothing is. */
export interface DraftRow extends ContextRow {
  rev: number;
  /** null, too, where they are of the version that is known */
  saved: Record<string, unknown> | null;
  /** which of them a shop signed; null when nothing is saved */
  said: Said | null;
}

/** @param input `known` the version whose answers need not be read, because they are at hand; 0: none is */
export async function readForDraft(
  on: OnConnection,
  { entryId, known }: { entryId: string; known: number },
): Promise<DraftRow | undefined> {
  const rev = Prisma.sql`COALESCE((SELECT dr.rev FROM drafts dr WHERE dr.entry_id = e.id), 0) AS rev,
    (SELECT dr.answers FROM drafts dr WHERE dr.entry_id = e.id AND dr.rev <> ${known}::int) AS saved,
    (SELECT dr.said FROM drafts dr WHERE dr.entry_id = e.id) AS said`;
  const [row] = await on.rows<DraftRow>(contextStatement(entryId, rev));
  return row;
}

/** What all cars of a run group are judged by. */
export type GroupJudgedWith = RulesRef & Pick<JudgedWith, 'event' | 'venue'>;

/** Undefined where there is no such run group, or where neither the entrant's entry nor a car of the shop is in it. */
export async function findGroup(
  pool: Pool,
  runGroupId: string,
  { entryId, shopId }: Pick<Actor, 'entryId' | 'shopId'>,
): Promise<GroupJudgedWith | undefined> {
  const [row] = await runPrepared<
    RulesRef & { startsOn: string; endsOn: string; timeZone: string; venue: VenueDetails }
  >(
    pool,
    Prisma.sql`
    SELECT g.rule_set_id AS "ruleSetId", g.rule_set_version AS "ruleSetVersion", g.resolved_hash AS "resolvedHash",
           g.parameters, to_char(ev.starts_on, 'YYYY-MM-DD') AS "startsOn", to_char(ev.ends_on, 'YYYY-MM-DD') AS "endsOn",
           ve.time_zone AS "timeZone", ve.details AS venue
    FROM run_groups g JOIN events ev ON ev.id = g.event_id JOIN venues ve ON ve.id = ev.venue_id
    WHERE g.id = ${runGroupId}::uuid AND (${entryId ?? null}::uuid IS NULL
      OR EXISTS (SELECT 1 FROM entries e WHERE e.id = ${entryId ?? null}::uuid AND e.run_group_id = g.id))
    AND (${shopId ?? null}::uuid IS NULL OR EXISTS (SELECT 1 FROM shop_links l JOIN entries e ON e.id = l.entry_id
      WHERE l.shop_id = ${shopId ?? null}::uuid AND l.ended_at IS NULL AND e.run_group_id = g.id))`,
  );
  if (row === undefined) return undefined;
  const { startsOn, endsOn, timeZone, venue, ...ref } = row;
  return { ...ref, event: { startsOn, endsOn }, venue: { timeZone, ...venueFacts(venue) } };
}

/** Saves the draft if it still has the version `rev` (0: none is there yet); returns whether it did. */
export async function saveDraft(
  on: OnConnection,
  draft: { entryId: string; rev: number; answers: string; said: Said; by: string; at: Date },
): Promise<boolean> {
  const { entryId, rev, answers, by, at } = draft;
  const said = JSON.stringify(draft.said);
  const rows = await on.rows(
    rev === 0
      ? Prisma.sql`INSERT INTO drafts (entry_id, answers, said, updated_by, updated_at)
          VALUES (${entryId}::uuid, ${answers}::jsonb, ${said}::jsonb, ${by}::uuid, ${at}::timestamptz)
          ON CONFLICT (entry_id) DO NOTHING RETURNING rev`
      : Prisma.sql`UPDATE drafts SET answers = ${answers}::jsonb, said = ${said}::jsonb, updated_by = ${by}::uuid,
            updated_at = ${at}::timestamptz, rev = rev + 1
          WHERE entry_id = ${entryId}::uuid AND rev = ${rev} RETURNING rev`,
  );
  return rows.length === 1;
}

/** The draft that was just submitted, over whatever draft there is, as a part of one write. */
export function draftPart(draft: { entryId: string; answers: string; said: Said; by: string; at: Date }): Prisma.Sql {
  const { entryId, answers, said, by, at } = draft;
  return Prisma.sql`
    INSERT INTO drafts (entry_id, answers, said, updated_by, updated_at)
    VALUES (${entryId}::uuid, ${answers}::jsonb, ${JSON.stringify(said)}::jsonb, ${by}::uuid, ${at}::timestamptz)
    ON CONFLICT (entry_id) DO UPDATE SET answers = EXCLUDED.answers, said = EXCLUDED.said, updated_by = EXCLUDED.updated_by,
      updated_at = EXCLUDED.updated_at, rev = drafts.rev + 1`;
}

/** What a submission depends on besides its answers. */
export interface SubmissionRow extends EntryRow, ContextRow, KeptRow {
  draft: Record<string, unknown> | null;
  /** which answers of the draft a shop signed, and all signatures of the entry */
  said: Said | null;
  signatures: Signature[];
  revisions: number;
  /** on the line, of the ticket that it may get */
  place: number;
  now: Date;
}

/** Everything that decides a submission to a locked entry, in the statement after the lock. */
export async function readForSubmission(
  tx: PlainTx,
  input: { entryId: string; request: Repeatable; ticketId: string; clock: Clock },
): Promise<SubmissionRow | undefined> {
  const [row] = await tx.rows<SubmissionRow>(Prisma.sql`
    WITH decided AS MATERIALIZED (SELECT ${decisionTimePart(input.clock)} AS now)
    SELECT decided.now, ${KEPT_COLUMNS}, ${ENTRY_COLUMNS}, ${CONTEXT_COLUMNS}, dr.answers AS draft,
           dr.said, ${SIGNATURES} AS signatures,
           (SELECT COALESCE(max(i.revision), 0) FROM inspections i WHERE i.entry_id = e.id) AS revisions,
           ${placeOfNew(input.ticketId, Prisma.sql`decided.now`)} AS place
    FROM ${ENTRY_JOINS} JOIN vehicles v ON v.id = e.vehicle_id LEFT JOIN drafts dr ON dr.entry_id = e.id
    ${keptJoin(input.request)} CROSS JOIN decided
    WHERE e.id = ${input.entryId}::uuid`);
  return row;
}

/** The newest revision of the same car at the last event before this one, with what the line measured of it. */
export interface EarlierDeclaration {
  event: string;
  endsOn: string;
  answers: Record<string, unknown>;
  checks: readonly { item: string; position?: string; value?: unknown }[] | null;
  /** entered by the same person as now */
  samePerson: boolean;
  /** written down between sessions there, oldest first */
  log: readonly { at: string; cells: Record<string, unknown> | null; renewed: readonly string[] | null }[];
}

export async function findEarlierDeclaration(db: Tx, entryId: string): Promise<EarlierDeclaration | undefined> {
  const rows = await db.$queryRaw<EarlierDeclaration[]>`
    SELECT o.name AS event, to_char(o.ends_on, 'YYYY-MM-DD') AS "endsOn", i.answers, s.checks,
           (oe.erased_at IS NULL AND oe.entrant->>'name' = e.entrant->>'name') AS "samePerson",
           COALESCE((SELECT jsonb_agg(jsonb_build_object(
               'at', to_char(sl.at AT TIME ZONE 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS.MS"Z"'), 'cells', sl.content->'cells',
               'renewed', sl.content->'renewed') ORDER BY sl.at, sl.id)
             FROM session_log sl WHERE sl.entry_id = oe.id AND sl.kind IN ('pads', 'tread')), '[]'::jsonb) AS log
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
