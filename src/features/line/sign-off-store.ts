import { v7 as uuidV7 } from 'uuid';
import type { Actor } from '../../domain/actor.ts';
import type { OpenCondition } from '../../domain/clearance.ts';
import type { Judgement } from '../../domain/rules/finding.ts';
import type { Tx } from '../../platform/db.ts';
import type { Prisma } from '../../platform/prisma-client/client.ts';
import { insertConditions } from '../../records/conditions.ts';
import type { SignOff } from './schemas.ts';
import type { ClaimState } from './store.ts';

export interface NewSignOff {
  claim: ClaimState;
  signOff: SignOff;
  judgement: Judgement;
  /** what concessions ask for that carry the acceptance */
  conceded: readonly string[];
  /** instants; absent on a refusal */
  validFrom: Date | undefined;
  validUntil: Date | undefined;
  actor: Actor;
  at: Date;
}

/** Writes the decision with its conditions; returns its id and the conditions with theirs. */
export async function insertSignOff(
  tx: Tx,
  input: NewSignOff,
): Promise<{ signOffId: string; conditions: OpenCondition[] }> {
  const signOffId = uuidV7();
  const { claim, signOff } = input;
  await tx.signOff.create({
    data: {
      id: signOffId,
      eventId: claim.eventId,
      entryId: claim.entryId,
      inspectionId: claim.inspectionId,
      claimId: claim.claimId,
      decision: signOff.decision,
      checks: signOff.checks as Prisma.InputJsonArray,
      findings: input.judgement.findings as unknown as Prisma.InputJsonArray,
      verdict: input.judgement.verdict,
      note: signOff.note ?? null,
      stickerNumber: signOff.stickerNumber ?? null,
      validFrom: input.validFrom ?? null,
      validUntil: input.validUntil ?? null,
      signedBy: input.actor.tokenId,
      signedName: input.actor.name,
      signedAt: input.at,
    },
  });
  const conditions = [...(signOff.conditions ?? []), ...input.conceded.map((text) => ({ text }))];
  return { signOffId, conditions: await insertConditions(tx, { signOffId, entryId: claim.entryId, conditions }) };
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
