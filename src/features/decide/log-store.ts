import type { ParameterOverride } from '../../domain/rules/model/rule-set.ts';
import type { LogKind } from '../../domain/log/session-log.ts';
import type { Tx } from '../../platform/database/db.ts';
import type { PlainTx, Statement } from '../../platform/database/plain-transaction.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';
import type { LogEntryView } from './log-schemas.ts';

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
