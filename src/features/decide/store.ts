import { v7 as uuidV7 } from 'uuid';
import type { Actor } from '../../domain/actor.ts';
import type { ClearanceFacts } from '../../domain/clearance/clearance.ts';
import type { ClearanceState } from '../../domain/clearance/decide-clearance.ts';
import type { Concession } from '../../domain/clearance/concession.ts';
import type { Tx } from '../../platform/database/db.ts';
import { STATE_COLUMNS_SQL, STATE_JOINS_SQL, type StateRow, toClearanceState } from '../../records/what-stands.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';
import type { ParameterOverride } from '../../domain/rules/model/rule-set.ts';
import type { LogKind } from '../../domain/log/session-log.ts';
import type { PlainTx, Statement } from '../../platform/database/plain-transaction.ts';
import type { LogEntryView } from './log-schemas.ts';

/** A concession with who granted, approved and revoked it, and when. */
export interface StoredConcession extends Concession {
  entryId: string;
  category?: string;
  /** the token it was granted with */
  grantedBy: string;
  grantedName: string;
  grantedAt: Date;
  approval?: { name: string; at: Date };
  revocation?: { name: string; at: Date; reason: string };
}

type Row = Prisma.ConcessionGetPayload<object>;

function toStored(row: Row): StoredConcession {
  const { approvedName, approvedAt, revokedName, revokedAt } = row;
  return {
    concessionId: row.id,
    entryId: row.entryId,
    ruleId: row.ruleId,
    ruleSetId: row.ruleSetId,
    ruleSetVersion: row.ruleSetVersion,
    coversLaterVersions: row.coversLaterVersions,
    reason: row.reason,
    ...(row.condition === null ? {} : { condition: row.condition }),
    ...(row.category === null ? {} : { category: row.category }),
    expiresAt: row.expiresAt.toISOString(),
    needsSecondPerson: row.needsSecondPerson,
    approved: approvedAt !== null,
    revoked: revokedAt !== null,
    grantedBy: row.grantedBy,
    grantedName: row.grantedName,
    grantedAt: row.grantedAt,
    ...(approvedAt === null ? {} : { approval: { name: approvedName ?? '', at: approvedAt } }),
    ...(revokedAt === null
      ? {}
      : { revocation: { name: revokedName ?? '', at: revokedAt, reason: row.revokeReason ?? '' } }),
  };
}

export interface NewConcession {
  entryId: string;
  ruleId: string;
  ruleSetId: string;
  ruleSetVersion: number;
  coversLaterVersions: boolean;
  reason: string;
  condition: string | undefined;
  category: string | undefined;
  needsSecondPerson: boolean;
  expiresAt: Date;
  actor: Actor;
  at: Date;
}

export async function insertConcession(tx: Tx, concession: NewConcession): Promise<StoredConcession> {
  const { actor, at, condition, category, ...what } = concession;
  const optional = { condition: condition ?? null, category: category ?? null };
  const granted = { grantedBy: actor.tokenId, grantedName: actor.name, grantedAt: at };
  return toStored(await tx.concession.create({ data: { id: uuidV7(), ...what, ...optional, ...granted } }));
}

export async function findConcession(db: Tx, concessionId: string): Promise<StoredConcession | undefined> {
  const row = await db.concession.findUnique({ where: { id: concessionId } });
  return row === null ? undefined : toStored(row);
}

/** All concessions of an entry, oldest first, whatever has become of them. */
export async function listConcessionsOfEntry(db: Tx, entryId: string): Promise<StoredConcession[]> {
  return (await db.concession.findMany({ where: { entryId }, orderBy: { id: 'asc' } })).map(toStored);
}

export interface Decision {
  concessionId: string;
  actor: Actor;
  at: Date;
}

/** Approves a concession that waits for it; undefined when it does not. */
export async function updateApproved(
  tx: Tx,
  { concessionId, actor, at }: Decision,
): Promise<StoredConcession | undefined> {
  const rows = await tx.concession.updateManyAndReturn({
    where: { id: concessionId, needsSecondPerson: true, approvedAt: null, revokedAt: null },
    data: { approvedBy: actor.tokenId, approvedName: actor.name, approvedAt: at },
  });
  return rows[0] && toStored(rows[0]);
}

/** Revokes a concession that is not revoked; undefined when it is. */
export async function updateRevoked(
  tx: Tx,
  { concessionId, actor, at, reason }: Decision & { reason: string },
): Promise<StoredConcession | undefined> {
  const rows = await tx.concession.updateManyAndReturn({
    where: { id: concessionId, revokedAt: null },
    data: { revokedBy: actor.tokenId, revokedName: actor.name, revokedAt: at, revokeReason: reason },
  });
  return rows[0] && toStored(rows[0]);
}

/** What decides the clearance, with the number; undefined for an unknown entry. */
export async function findClearance(
  db: Tx,
  entryId: string,
): Promise<{ entryId: string; carNumber: string; facts: ClearanceFacts; state: ClearanceState } | undefined> {
  const [row] = await db.$queryRaw<(StateRow & { carNumber: string })[]>`
    SELECT c.car_number AS "carNumber", ${STATE_COLUMNS_SQL}
    FROM clearances c JOIN entries e ON e.id = c.entry_id JOIN run_groups g ON g.id = e.run_group_id ${STATE_JOINS_SQL}
    WHERE c.entry_id = ${entryId}::uuid`;
  return row && { entryId, carNumber: row.carNumber, facts: row.facts, state: toClearanceState(row) };
}

/** What is kept of an entry as one document. */
export type LogDocument = Pick<
  LogEntryView,
  'values' | 'cells' | 'laps' | 'bestLapSeconds' | 'temperatures' | 'symptoms' | 'wheelsCooled' | 'renewed' | 'note'
>;

/** An entry of the log as it is kept. */
export interface StoredLog {
  logId: string;
  entryId: string;
  kind: LogKind;
  session: string | null;
  at: Date;
  content: LogDocument;
  effects: Pick<LogEntryView, 'holdId' | 'conditionId'>;
  writtenBy: string;
  writtenRole: string;
  writtenName: string;
  writtenAt: Date;
}

/** A new entry as a part of one write. */
export function logPart(log: StoredLog): Statement {
  return Prisma.sql`
    INSERT INTO session_log (id, entry_id, kind, session, at, content, effects, written_by, written_role, written_name,
                             written_at)
    VALUES (${log.logId}::uuid, ${log.entryId}::uuid, ${log.kind}, ${log.session}, ${log.at}::timestamptz,
            ${JSON.stringify(log.content)}::jsonb, ${JSON.stringify(log.effects)}::jsonb, ${log.writtenBy}::uuid,
            ${log.writtenRole}, ${log.writtenName}, ${log.writtenAt}::timestamptz)`;
}

/** An open condition that a log entry closes, as a part of one write. */
export function conditionDonePart(done: { conditionId: string; by: string; name: string; at: Date; note: string }) {
  return Prisma.sql`
    UPDATE conditions SET done_at = ${done.at}::timestamptz, done_by = ${done.by}::uuid, done_name = ${done.name},
      done_note = ${done.note}
    WHERE id = ${done.conditionId}::uuid AND done_at IS NULL`;
}

/** Entries of the log, the newest first; `after` is the id of the last one seen. */
export async function listLog(
  db: Tx,
  entryId: string,
  { after, take }: { after: string | undefined; take: number },
): Promise<StoredLog[]> {
  const where = { entryId, ...(after === undefined ? {} : { id: { lt: after } }) };
  const rows = await db.sessionLog.findMany({ where, orderBy: { id: 'desc' }, take });
  return rows.map(({ id, kind, content, effects, ...row }) => ({
    ...row,
    logId: id,
    // written by `logPart` only, from typed values
    kind: kind as LogKind,
    content: content as unknown as LogDocument,
    effects: effects as StoredLog['effects'],
  }));
}

export async function hasEntry(db: Tx, entryId: string): Promise<boolean> {
  return (await db.entry.count({ where: { id: entryId } })) > 0;
}

/** The rules that judge the run group of an entry today. */
export interface GroupRules {
  ruleSetId: string;
  ruleSetVersion: number;
  resolvedHash: string | null;
  parameters: Readonly<Record<string, ParameterOverride>>;
}

export async function readGroupRules(tx: PlainTx, entryId: string): Promise<GroupRules | undefined> {
  const [row] = await tx.rows<GroupRules>(Prisma.sql`
    SELECT g.rule_set_id AS "ruleSetId", g.rule_set_version AS "ruleSetVersion", g.resolved_hash AS "resolvedHash",
      g.parameters
    FROM entries e JOIN run_groups g ON g.id = e.run_group_id WHERE e.id = ${entryId}::uuid`);
  return row;
}
