import { personKey } from '../../domain/actor.ts';
import { tokenWorks } from '../../http/access/auth.ts';
import type { Tx } from '../../platform/database/db.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';
import type { EnrolledRole } from './enrolment-schemas.ts';

export interface StoredEnrolment {
  enrolmentId: string;
  role: EnrolledRole;
  holder: string;
  personId: string | null;
  /** the events that the token will be for; none for an organizer, and for codes from before */
  eventIds: string[];
  createdBy: string;
  expiresAt: Date;
  used: boolean;
  /** whether the token that made it still works */
  makerWorks: boolean;
}

const MAKER_WORKS = Prisma.raw(tokenWorks('t', 'redeemed.at'));

export async function insertEnrolment(
  db: Tx,
  enrolment: {
    codeHash: Buffer;
    role: EnrolledRole;
    holder: string;
    personId: string | undefined;
    eventIds: string[];
    createdBy: string;
    createdAt: Date;
    expiresAt: Date;
  },
): Promise<string> {
  const data = { ...enrolment, personId: enrolment.personId ?? null, codeHash: new Uint8Array(enrolment.codeHash) };
  return (await db.enrolment.create({ data, select: { id: true } })).id;
}

/** Locks the enrolment of a code until the end of the transaction, if there is one. Read it afterwards. */
export async function lockEnrolment(tx: Tx, codeHash: Buffer): Promise<void> {
  await tx.$queryRaw`SELECT 1 FROM enrolments WHERE code_hash = ${codeHash} FOR UPDATE`;
}

/** The enrolment of a code; undefined when there is none. `now` decides whether its maker's token still works. */
export async function findEnrolment(tx: Tx, codeHash: Buffer, now: Date): Promise<StoredEnrolment | undefined> {
  const rows = await tx.$queryRaw<StoredEnrolment[]>`
    SELECT e.id::text AS "enrolmentId", e.role, e.holder, e.person_id AS "personId",
      e.event_ids AS "eventIds", e.created_by::text AS "createdBy", e.expires_at AS "expiresAt",
      e.used_at IS NOT NULL AS used,
      EXISTS (SELECT 1 FROM tokens t WHERE t.id = e.created_by AND ${MAKER_WORKS}) AS "makerWorks"
    FROM enrolments e CROSS JOIN (SELECT ${now}::timestamptz AS at) redeemed WHERE e.code_hash = ${codeHash}`;
  return rows[0];
}

/** The token and the mark on the enrolment belong together: call it in the transaction that locked the enrolment. */
export async function insertEnrolledToken(
  tx: Tx,
  enrolment: StoredEnrolment,
  token: { hash: Buffer; at: Date },
): Promise<string> {
  const { role, holder, personId, createdBy, eventIds } = enrolment;
  const events = { create: eventIds.map((eventId) => ({ eventId })) };
  const data = {
    hash: new Uint8Array(token.hash),
    role,
    holder,
    holderKey: personKey(holder),
    personId,
    createdBy,
    createdAt: token.at,
    events,
  };
  const { id } = await tx.token.create({ data, select: { id: true } });
  await tx.enrolment.update({ where: { id: enrolment.enrolmentId }, data: { usedAt: token.at, tokenId: id } });
  return id;
}
