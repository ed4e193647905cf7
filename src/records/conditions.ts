import { v7 as uuidV7 } from 'uuid';
import type { OpenCondition } from '../domain/clearance.ts';
import type { Tx } from '../platform/db.ts';
import { Prisma } from '../platform/prisma-client/client.ts';

/** Conditions with their ids and with due times in UTC. */
export const newConditions = (given: readonly { text: string; dueAt?: string | undefined }[]): OpenCondition[] =>
  given.map(({ text, dueAt }) => ({
    id: uuidV7(),
    text,
    ...(dueAt === undefined ? {} : { dueAt: new Date(dueAt).toISOString() }),
  }));

/** Conditions of a sign-off as a part of one write. */
export function conditionsPart(signOffId: string, entryId: string, conditions: readonly OpenCondition[]): Prisma.Sql {
  return Prisma.sql`INSERT INTO conditions (id, entry_id, sign_off_id, text, due_at)
    SELECT r.id, ${entryId}::uuid, ${signOffId}::uuid, r.text, r."dueAt"
    FROM jsonb_to_recordset(${JSON.stringify(conditions)}::jsonb) AS r (id uuid, text text, "dueAt" timestamptz)`;
}

/** Writes conditions of a sign-off; returns them with their ids and with due times in UTC. */
export async function insertConditions(
  tx: Tx,
  input: { signOffId: string; entryId: string; conditions: readonly { text: string; dueAt?: string | undefined }[] },
): Promise<OpenCondition[]> {
  const { signOffId, entryId } = input;
  const conditions = newConditions(input.conditions);
  const data = conditions.map((condition) => ({ ...condition, entryId, signOffId, dueAt: condition.dueAt ?? null }));
  await tx.condition.createMany({ data });
  return conditions;
}
