import { type Actor, personKey } from '../domain/actor.ts';
import { ProblemError } from '../http/frame/problem.ts';
import type { Tx } from '../platform/database/db.ts';
import { Prisma } from '../platform/prisma-client/client.ts';

/** Whom it is about, in SQL: the folded name (`personKey`) of the holder of a token, and the token's id. */
interface Person {
  key: Prisma.Sql;
  tokenId: Prisma.Sql;
}
const asPerson = ({ name, tokenId }: Actor): Person => ({
  key: Prisma.sql`${personKey(name)}`,
  tokenId: Prisma.sql`${tokenId}::uuid`,
});

/**
 * True for entries on which the person has an interest: named on the entry, or holder of a token that declares for it.
 * `e` is the entries table of the statement around it.
 */
export const hasInterest = (actor: Actor): Prisma.Sql => interestOf(asPerson(actor));

/** True for entries whose declaration that counts was typed at the line by this person, for the entrant. */
export const hasTyped = (actor: Actor): Prisma.Sql => typedBy(asPerson(actor));

/** True for entries on which whoever signed something may decide: no interest, and did not type the declaration. */
export const mayDecide = (person: Person): Prisma.Sql => Prisma.sql`NOT (${interestOf(person)} OR ${typedBy(person)})`;

const interestOf = ({ key, tokenId }: Person): Prisma.Sql => Prisma.sql`(${key} = ANY (e.person_keys)
    OR EXISTS (SELECT 1 FROM tokens k WHERE k.entry_id = e.id AND (k.holder_key = ${key} OR k.id = ${tokenId})))`;

const typedBy = ({ key, tokenId }: Person): Prisma.Sql => Prisma.sql`COALESCE((
    SELECT i.submitted_by = ${tokenId}
      OR EXISTS (SELECT 1 FROM tokens k WHERE k.id = i.submitted_by AND k.holder_key = ${key})
    FROM inspections i WHERE i.entry_id = e.id AND i.cause = 'submitted' ORDER BY i.revision DESC LIMIT 1), false)`;

/**
 * Who decides at the line has no interest in the car, and did not type its declaration.
 *
 * @throws ProblemError `conflict-of-interest`
 */
export async function assertMayDecideOn(tx: Tx, actor: Actor, entryId: string): Promise<void> {
  await assertNoInterest(tx, actor, entryId);
  const rows = await tx.$queryRaw<{ typed: boolean }[]>`
    SELECT ${hasTyped(actor)} AS typed FROM entries e WHERE e.id = ${entryId}::uuid`;
  if (rows[0]?.typed !== false) throw refusal('typed');
}

/**
 * The same where a statement that decides has read `hasInterest` and `hasTyped` already.
 *
 * @throws ProblemError `conflict-of-interest`
 */
export function refuseInterested(row: { interest: boolean; typed: boolean }): void {
  if (row.interest) throw refusal('interest');
  if (row.typed) throw refusal('typed');
}

const WHY = {
  interest: 'You entered this car or are named on its entry; somebody else must decide.',
  typed: 'You typed the declaration of this car; somebody else must decide.',
} as const;
const refusal = (why: keyof typeof WHY) => new ProblemError('conflict-of-interest', WHY[why]);

/**
 * Nobody decides on a car of their own.
 *
 * @throws ProblemError `conflict-of-interest`
 */
export async function assertNoInterest(tx: Tx, actor: Actor, entryId: string): Promise<void> {
  const rows = await tx.$queryRaw<{ interest: boolean }[]>`
    SELECT ${hasInterest(actor)} AS interest FROM entries e WHERE e.id = ${entryId}::uuid`;
  if (rows[0]?.interest !== false) throw refusal('interest');
}
