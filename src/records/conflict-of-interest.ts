import { type Actor, maybeSamePerson, type NamedPerson, personKey } from '../domain/actor.ts';
import { ProblemError } from '../http/frame/problem.ts';
import type { Tx } from '../platform/database/db.ts';
import { Prisma } from '../platform/prisma-client/client.ts';

/** Whoever decides, or has decided: a token and its holder. */
export type Decider = Pick<Actor, 'tokenId'> & NamedPerson;

/** Whom a decision on an entry concerns. */
export interface Concerned {
  /** the entrant and everybody named on the entry */
  people: NamedPerson[];
  /** the tokens that declare for the entry */
  declarers: Decider[];
  /** who of a shop prepared the car: those who signed, and the shops that have or had it */
  preparers: Decider[];
  /** who sent the declaration that counts; null: there is none */
  typedBy: { tokenId: string; name: string | null; personId: string | null } | null;
}

/** `Concerned` of the entry `e` of the statement around it, in SQL. Names look the same in code only, so that is where it is judged. */
export const CONCERNED = Prisma.sql`jsonb_build_object(
  'people', (SELECT jsonb_agg(jsonb_build_object('name', p->>'name', 'personId', p->>'personId'))
    FROM jsonb_array_elements(jsonb_build_array(e.entrant) || e.people) p),
  'declarers', COALESCE((SELECT jsonb_agg(jsonb_build_object('tokenId', ct.id, 'name', ct.holder, 'personId', ct.person_id))
    FROM tokens ct WHERE ct.entry_id = e.id), '[]'::jsonb),
  'preparers', COALESCE((SELECT jsonb_agg(jsonb_build_object('tokenId', cp.token_id, 'name', cp.name)) FROM (
    SELECT ss.signed_by AS token_id, ss.name FROM shop_signatures ss WHERE ss.entry_id = e.id
    UNION ALL SELECT ct.id, ct.holder FROM shop_links sl JOIN tokens ct ON ct.shop_id = sl.shop_id
      WHERE sl.entry_id = e.id) cp), '[]'::jsonb),
  'typedBy', (SELECT jsonb_build_object('tokenId', ci.submitted_by, 'name', ct.holder, 'personId', ct.person_id)
    FROM inspections ci LEFT JOIN tokens ct ON ct.id = ci.submitted_by
    WHERE ci.entry_id = e.id AND ci.cause = 'submitted' ORDER BY ci.revision DESC LIMIT 1))`;

const WHY = {
  interest: 'You entered this car or are named on its entry; somebody else must decide.',
  prepared: 'You prepared this car, or your shop did; somebody else must decide.',
  typed: 'You typed the declaration of this car; somebody else must decide.',
} as const;
type Conflict = keyof typeof WHY;

/** What keeps somebody from deciding on an entry; undefined: nothing does. */
export function conflictOf(
  decider: Decider,
  { people, declarers, preparers, typedBy }: Concerned,
): Conflict | undefined {
  const isDecider = ({ tokenId, name, personId }: Omit<Decider, 'name'> & { name: string | null }) =>
    tokenId === decider.tokenId || (name !== null && maybeSamePerson(decider, { name, personId }));
  if (people.some((person) => maybeSamePerson(decider, person)) || declarers.some(isDecider)) return 'interest';
  if (preparers.some(isDecider)) return 'prepared';
  return typedBy !== null && isDecider(typedBy) ? 'typed' : undefined;
}

/**
 * In SQL, the entries `e` that an actor may decide on as far as keys and ids tell. It spares reading what is known to be his;
 * of what is left, `conflictOf` decides.
 */
export const mayConcernOthersOnly = ({ name, tokenId, personId }: Actor): Prisma.Sql => {
  const key = personKey(name);
  const isHis = Prisma.sql`(ct.id = ${tokenId}::uuid OR ct.holder_key = ${key})`;
  return Prisma.sql`NOT (${key} = ANY (e.person_keys)
    OR COALESCE(${personId ?? null}::text = ANY (e.person_ids), false)
    OR EXISTS (SELECT 1 FROM tokens ct WHERE ct.entry_id = e.id AND ${isHis})
    OR COALESCE((SELECT ci.submitted_by = ${tokenId}::uuid
        OR EXISTS (SELECT 1 FROM tokens ct WHERE ct.id = ci.submitted_by AND ${isHis})
      FROM inspections ci WHERE ci.entry_id = e.id AND ci.cause = 'submitted' ORDER BY ci.revision DESC LIMIT 1), false))`;
};

async function readConcerned(tx: Tx, entryId: string): Promise<Concerned> {
  const rows = await tx.$queryRaw<{ concerned: Concerned }[]>`
    SELECT ${CONCERNED} AS concerned FROM entries e WHERE e.id = ${entryId}::uuid`;
  if (rows[0] === undefined) throw new Error('whoever decides on an entry has locked it');
  return rows[0].concerned;
}

function refuse(conflict: Conflict | undefined): void {
  if (conflict !== undefined) throw new ProblemError('conflict-of-interest', WHY[conflict]);
}

/**
 * Who decides at the line has no interest in the car, and did not type its declaration.
 *
 * @throws ProblemError `conflict-of-interest`
 */
export async function assertMayDecideOn(tx: Tx, actor: Actor, entryId: string): Promise<void> {
  refuseConcerned(actor, await readConcerned(tx, entryId));
}

/**
 * The same where a statement that decides has read `CONCERNED` already.
 *
 * @throws ProblemError `conflict-of-interest`
 */
export function refuseConcerned(actor: Actor, concerned: Concerned): void {
  refuse(conflictOf(actor, concerned));
}

/**
 * Nobody decides on a car of their own.
 *
 * @throws ProblemError `conflict-of-interest`
 */
export async function assertNoInterest(tx: Tx, actor: Actor, entryId: string): Promise<void> {
  refuse(conflictOf(actor, { ...(await readConcerned(tx, entryId)), typedBy: null }));
}

/** Whether an actor may be the person behind a decision of before, whatever token it was made with. */
export async function mayHaveDecided(tx: Tx, actor: Actor, by: { tokenId: string; name: string }): Promise<boolean> {
  if (actor.tokenId === by.tokenId) return true;
  const token = await tx.token.findUnique({ where: { id: by.tokenId }, select: { personId: true } });
  return maybeSamePerson(actor, { name: by.name, personId: token?.personId });
}
