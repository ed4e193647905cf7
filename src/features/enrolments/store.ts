import { personKey } from '../../domain/actor.ts';
import type { Tx } from '../../platform/db.ts';
import type { EnrolledRole } from './schemas.ts';

export interface StoredEnrolment {
  enrolmentId: string;
  role: EnrolledRole;
  holder: string;
  createdBy: string;
  expiresAt: Date;
  used: boolean;
  /** whether the token that made it still works */
  makerWorks: boolean;
}

export async function insertEnrolment(
  db: Tx,
  enrolment: {
    codeHash: Buffer;
    role: EnrolledRole;
    holder: string;
    createdBy: string;
    createdAt: Date;
    expiresAt: Date;
  },
): Promise<string> {
  const data = { ...enrolment, codeHash: new Uint8Array(enrolment.codeHash) };
  return (await db.enrolment.create({ data, select: { id: true } })).id;
}

/** Locks the enrolment of a code until the end of the transaction; undefined when there is none. */
export async function lockEnrolment(tx: Tx, codeHash: Buffer, now: Date): Promise<StoredEnrolment | undefined> {
  const rows = await tx.$queryRaw<StoredEnrolment[]>`
    SELECT e.id::text AS "enrolmentId", e.role, e.holder, e.created_by::text AS "createdBy", e.expires_at AS "expiresAt",
      e.used_at IS NOT NULL AS used,
      EXISTS (SELECT 1 FROM tokens t WHERE t.id = e.created_by AND t.revoked_at IS NULL
        AND (t.expires_at IS NULL OR t.expires_at > ${now})) AS "makerWorks"
    FROM enrolments e WHERE e.code_hash = ${codeHash} FOR UPDATE OF e`;
  return rows[0];
}

/** The token and the mark on the enrolment belong together: call it in the transaction that locked the enrolment. */
export async function insertEnrolledToken(
  tx: Tx,
  enrolment: StoredEnrolment,
  token: { hash: Buffer; at: Date },
): Promise<string> {
  const { role, holder, createdBy } = enrolment;
  const data = { hash: new Uint8Array(token.hash), role, holder, holderKey: personKey(holder), createdBy };
  const { id } = await tx.token.create({ data, select: { id: true } });
  await tx.enrolment.update({ where: { id: enrolment.enrolmentId }, data: { usedAt: token.at, tokenId: id } });
  return id;
}
