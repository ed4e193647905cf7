import type { OpenCondition } from '../../domain/clearance/clearance.ts';
import type { OutboxEntry } from '../../platform/queue/outbox.ts';
import type { Actor } from '../../domain/actor.ts';
import type { Concession } from '../../domain/clearance/concession.ts';
import type { DonePoint, OtherAcceptance } from '../../domain/line/done-elsewhere.ts';
import type { NamedInstrument } from '../../domain/line/instruments.ts';
import type { StandingRefusal } from '../../domain/clearance/inspect-again.ts';
import { type Judgement, thatCount } from '../../domain/rules/model/finding.ts';
import { KEPT_COLUMNS, keptJoin, type KeptRow, type Repeatable } from '../../http/frame/idempotency.ts';
import type { ChosenLook } from '../../domain/foresight/line-looks.ts';
import { type Clock, decisionTimePart } from '../../platform/clock.ts';
import type { Tx } from '../../platform/database/db.ts';
import type { PlainTx, Statement } from '../../platform/database/plain-transaction.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';
import { CLEARANCE_EXPIRE, CONDITION_FALL_DUE, STANDING_REFUSALS, STICKERS } from '../../records/what-stands.ts';
import { CONCERNED, type Concerned } from '../../records/conflict-of-interest.ts';
import { byOthers, otherAcceptances, type ReadAcceptance } from '../../records/judging/at-line.ts';
import type { PackedLists } from '../../records/judging/signed-lists.ts';
import { ENTRY_COLUMNS, ENTRY_JOINS, type EntryRow } from '../../records/locks/entry-lock.ts';
import type { StoredInspection } from '../../records/judging/inspections.ts';
import { CONTEXT_COLUMNS, type ContextRow } from '../../records/judging/judging-context.ts';
import type { SignOff } from './schemas.ts';

/** The entry of a claim of this inspector's; null when it is none. */
export const entryOfClaim = (claimId: string, inspectorId: string): Statement => Prisma.sql`(
  SELECT lt.entry_id FROM claims lc JOIN tickets lt ON lt.id = lc.ticket_id
  WHERE lc.id = ${claimId}::uuid AND lc.inspector_id = ${inspectorId}::uuid)`;

/** An inspection that is decided on. Where `kept` is null, its findings stay whole in its own row and are not read. */
export type SignedInspection = Pick<
  StoredInspection,
  'answers' | 'vehicle' | 'parameters' | 'resolvedHash' | 'context' | 'ruleSetId' | 'ruleSetVersion' | 'kept'
> & { findings: StoredInspection['findings'] | null };

/** What a sign-off depends on. */
export interface SignOffRow extends EntryRow, ContextRow, KeptRow {
  now: Date;
  endReason: string | null;
  /** the points that the claim chose for this car */
  looks: ChosenLook[] | null;
  /** by the database clock, after the lock */
  expired: boolean;
  /** who has the car, where it is not this claim */
  claimedBy: string | null;
  concerned: Concerned;
  inspectionId: string;
  judged: SignedInspection;
  concessions: Concession[];
  refusals: StandingRefusal[];
  others: OtherAcceptance[];
  stickers: string[];
  /** the event's own, as they are now */
  instruments: NamedInstrument[];
}

/** Everything that decides a sign-off, in the statement after the lock. */
export async function readForSignOff(
  tx: PlainTx,
  input: { claimId: string; request: Repeatable; clock: Clock },
): Promise<SignOffRow | undefined> {
  const { claimId } = input;
  const [row] = await tx.rows<Omit<SignOffRow, 'others'> & { others: ReadAcceptance[] }>(Prisma.sql`
    WITH decided AS MATERIALIZED (SELECT ${decisionTimePart(input.clock)} AS now, clock_timestamp() AS read_at)
    SELECT decided.now, ${KEPT_COLUMNS}, ${ENTRY_COLUMNS}, ${CONTEXT_COLUMNS}, cl.end_reason AS "endReason", cl.looks, ev.instruments,
      cl.expires_at <= decided.read_at AS expired, ${CONCERNED} AS concerned,
      (SELECT other.inspector_name FROM claims other
       WHERE other.ticket_id = cl.ticket_id AND other.ended_at IS NULL AND other.id <> cl.id
         AND other.expires_at > decided.read_at LIMIT 1) AS "claimedBy",
      ti.inspection_id AS "inspectionId",
      jsonb_build_object('answers', i.answers, 'vehicle', i.vehicle, 'parameters', i.parameters,
        'resolvedHash', i.resolved_hash, 'context', i.context, 'ruleSetId', i.rule_set_id,
        'ruleSetVersion', i.rule_set_version, 'findings', CASE WHEN i.codes IS NOT NULL THEN i.findings END,
        'kept', CASE WHEN i.codes IS NOT NULL THEN jsonb_build_object('codes', i.codes, 'evaluator', i.evaluator,
          'findingsSha256', i.findings_sha256) END) AS judged,
      ${STANDING_REFUSALS} AS refusals, ${otherAcceptances(Prisma.sql`decided.now`)} AS others, ARRAY(${STICKERS}) AS stickers
    FROM ${ENTRY_JOINS} JOIN vehicles v ON v.id = e.vehicle_id
    JOIN tickets ti ON ti.entry_id = e.id JOIN claims cl ON cl.ticket_id = ti.id
    JOIN inspections i ON i.id = ti.inspection_id ${keptJoin(input.request)} CROSS JOIN decided
    WHERE cl.id = ${claimId}::uuid
      -- What the order of so many tables begins with: else every car of every event is read.
      AND c.entry_id = (SELECT lt.entry_id FROM claims lc JOIN tickets lt ON lt.id = lc.ticket_id WHERE lc.id = ${claimId}::uuid)`);
  return row && { ...row, others: byOthers(row.others) };
}

/** A decision as it is kept. */
export interface NewSignOff {
  signOffId: string;
  eventId: string;
  entryId: string;
  inspectionId: string;
  claimId: string;
  signOff: SignOff;
  /** points done for other entries of the car that this line did not look at itself */
  others: readonly DonePoint[];
  judgement: Judgement;
  packed: PackedLists;
  /** instants; absent on a refusal */
  validFrom: Date | undefined;
  validUntil: Date | undefined;
  actor: Actor;
  at: Date;
}

/** A decision as a part of one write. */
export function signOffPart(input: NewSignOff): Statement {
  const { signOff, judgement, packed, actor } = input;
  // Kept with where they are from, so that the same judgement comes out again, and nobody takes them over twice.
  const taken = input.others.map(({ of, ...point }) => ({ ...point, from: of.signOffId }));
  const checks = [...signOff.checks, ...taken];
  return Prisma.sql`
    INSERT INTO sign_offs (id, event_id, entry_id, inspection_id, claim_id, decision, checks, findings, evaluator, lists,
      lists_sha256, verdict, note, sticker_number, valid_from, valid_until, signed_by, signed_name, signed_at)
    VALUES (${input.signOffId}::uuid, ${input.eventId}::uuid, ${input.entryId}::uuid, ${input.inspectionId}::uuid,
      ${input.claimId}::uuid, ${signOff.decision}, ${JSON.stringify(checks)}::jsonb,
      ${JSON.stringify(thatCount(judgement.findings))}::jsonb, ${packed.evaluator}, ${packed.lists}, ${packed.listsSha256},
      ${judgement.verdict}, ${signOff.note ?? null}, ${signOff.stickerNumber ?? null}, ${input.validFrom ?? null}::timestamptz, ${input.validUntil ?? null}::timestamptz,
      ${actor.tokenId}::uuid, ${actor.name}, ${input.at}::timestamptz)`;
}

export async function findSignOff(
  db: Tx,
  signOffId: string,
): Promise<{ entryId: string; decision: string } | undefined> {
  const row = await db.signOff.findUnique({ where: { id: signOffId }, select: { entryId: true, decision: true } });
  return row ?? undefined;
}

export async function findCondition(db: Tx, conditionId: string): Promise<{ entryId: string } | undefined> {
  return (await db.condition.findUnique({ where: { id: conditionId }, select: { entryId: true } })) ?? undefined;
}

/** The name of the job that tells the entrant what the line decided. */
export const SIGN_OFF_NOTIFY = 'sign-off.notify';

/** What time does after a sign-off: conditions that fall due, the end of the clearance, and the message. */
export function jobsAfterSignOff(signed: {
  signOffId: string;
  conditions: readonly OpenCondition[];
  validUntil: Date | undefined;
  requestId: string;
}): OutboxEntry[] {
  const { signOffId, validUntil, requestId } = signed;
  const due = signed.conditions.flatMap(({ id, dueAt }) =>
    dueAt === undefined ? [] : [{ payload: { conditionId: id }, runAt: new Date(dueAt) }],
  );
  return [
    { name: SIGN_OFF_NOTIFY, payload: { signOffId }, requestId },
    ...due.map((one) => ({ name: CONDITION_FALL_DUE, ...one, requestId })),
    ...(validUntil === undefined
      ? []
      : [{ name: CLEARANCE_EXPIRE, payload: { signOffId }, runAt: validUntil, requestId }]),
  ];
}
