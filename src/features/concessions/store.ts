import { v7 as uuidV7 } from 'uuid';
import type { Actor } from '../../domain/actor.ts';
import type { Tx } from '../../platform/db.ts';

export interface NewConcession {
  entryId: string;
  ruleId: string;
  ruleSetId: string;
  ruleSetVersion: number;
  reason: string;
  expiresAt: Date;
  actor: Actor;
  at: Date;
}

export async function insertConcession(tx: Tx, concession: NewConcession): Promise<string> {
  const { actor, at, ...what } = concession;
  const id = uuidV7();
  await tx.concession.create({
    data: { id, ...what, grantedBy: actor.tokenId, grantedName: actor.name, grantedAt: at },
  });
  return id;
}
