import { v7 as uuidV7 } from 'uuid';
import type { OpenCondition } from '../domain/clearance.ts';
import type { Tx } from '../platform/db.ts';

/** Writes conditions of a sign-off; returns them with their ids and with due times in UTC. */
export async function insertConditions(
  tx: Tx,
  input: { signOffId: string; entryId: string; conditions: readonly { text: string; dueAt?: string | undefined }[] },
): Promise<OpenCondition[]> {
  const { signOffId, entryId } = input;
  const conditions = input.conditions.map(({ text, dueAt }) => ({
    id: uuidV7(),
    text,
    ...(dueAt === undefined ? {} : { dueAt: new Date(dueAt).toISOString() }),
  }));
  const data = conditions.map((condition) => ({ ...condition, entryId, signOffId, dueAt: condition.dueAt ?? null }));
  await tx.condition.createMany({ data });
  return conditions;
}
