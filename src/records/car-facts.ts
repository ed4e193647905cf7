import type { Actor } from '../domain/actor.ts';
import type { FactOrigin, FactValue } from '../domain/car/car-facts.ts';
import type { ReadFacts } from '../domain/car/read-facts.ts';
import type { Statement } from '../platform/database/plain-transaction.ts';
import { Prisma } from '../platform/prisma-client/client.ts';

type Why = { actor: Actor; at: Date };

/** A value that the organizer wrote: the staff stands for it, but a number that such cars do not have is asked again. */
export const givenBy = ({ actor, at }: Why): FactOrigin => ({
  origin: 'confirmed',
  by: { tokenId: actor.tokenId, as: 'staff', name: actor.name },
  at: at.toISOString(),
});

/** That somebody of the staff read a fact at the car, or agreed with it when asked. */
export const confirmedBy = (why: Why): FactOrigin => ({ ...givenBy(why), again: true });

/**
 * Writes what the line found out about a car as a part of one write. Each fact by itself: what others wrote of the car
 * meanwhile stays.
 */
export function confirmFactsPart(vehicleId: string, facts: ReadFacts, by: { actor: Actor; at: Date }): Statement {
  const origin = confirmedBy(by);
  const origins = Object.fromEntries([...facts.keys()].map((path) => [path, origin]));
  const single = [...facts].filter(([path]) => !path.includes('.'));
  const fields = new Map<string, Record<string, FactValue>>();
  for (const [path, value] of facts) {
    const [field = '', position] = path.split('.');
    if (position !== undefined) fields.set(field, { ...fields.get(field), [position]: value });
  }
  const placed = Array.from(
    fields,
    ([field, values]) => Prisma.sql`
      || jsonb_build_object(${field}::text, COALESCE(record->${field}, '{}'::jsonb) || ${JSON.stringify(values)}::jsonb)`,
  );
  const record = Prisma.sql`record || ${JSON.stringify(Object.fromEntries(single))}::jsonb
    ${placed.length === 0 ? Prisma.empty : Prisma.join(placed, ' ')}`;
  return Prisma.sql`
    UPDATE vehicles SET record = ${record}, origins = origins || ${JSON.stringify(origins)}::jsonb, rev = rev + 1
    WHERE id = ${vehicleId}::uuid`;
}
