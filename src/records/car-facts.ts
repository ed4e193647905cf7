import type { Actor } from '../domain/actor.ts';
import type { FactOrigin, FactValue, ReadFacts } from '../domain/car/car-facts.ts';
import { parseAnswers } from '../domain/declaration/declaration.ts';
import type { Vehicle } from '../domain/vehicle.ts';
import type { Tx } from '../platform/database/db.ts';
import type { Statement } from '../platform/database/plain-transaction.ts';
import { Prisma } from '../platform/prisma-client/client.ts';
import { recordEntryHistory } from './history/history.ts';
import { findInspection } from './judging/inspections.ts';
import { restsOnChange } from './judging/judge-entry.ts';
import { getRules } from './judging/rules.ts';
import type { LockedEntry } from './locks/entry-lock.ts';
import { notifyEntrant } from './notify-entrant.ts';
import { closeTicket } from './tickets.ts';

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

/** Why a declaration says nothing of the car any more, for entrant and gate. */
export const CAR_CHANGED = 'the record of the car changed';

/** Takes the declarations of locked entries away, with their places on the line, and tells the entrants. */
export async function voidDeclarations(
  tx: Tx,
  affected: readonly LockedEntry[],
  reason: string,
  context: { actor: Actor; at: Date; requestId: string },
): Promise<void> {
  for (const entry of affected) {
    const { declared, withdrawn } = entry.facts;
    if (declared === undefined || withdrawn) continue;
    await closeTicket(tx, entry, 'void', context.at);
    await recordEntryHistory(tx, entry, {
      ...context,
      action: 'declaration.voided',
      happening: { type: 'declaration-voided', reason },
    });
    const { entryId } = entry;
    const { requestId } = context;
    await notifyEntrant(tx, { entryId, kind: 'declaration.voided', id: declared.inspectionId, requestId });
  }
}

/**
 * Of these locked entries those whose declaration was judged on something of the car that is otherwise now. A fact that no
 * rule of its group used changes nothing; answers that nobody can read any more count as judged on all of it.
 *
 * @param now the records of the cars as they are now, by their ids
 */
export async function judgedOnChange(
  tx: Tx,
  entries: readonly LockedEntry[],
  { now, at }: { now: ReadonlyMap<string, Vehicle>; at: Date },
): Promise<LockedEntry[]> {
  const affected: LockedEntry[] = [];
  for (const entry of entries) {
    const vehicle = now.get(entry.vehicleId);
    if (vehicle !== undefined && (await isAffected(tx, entry, vehicle, at))) affected.push(entry);
  }
  return affected;
}

async function isAffected(tx: Tx, { facts }: LockedEntry, vehicle: Vehicle, now: Date): Promise<boolean> {
  const { declared, withdrawn } = facts;
  if (declared === undefined || withdrawn) return false;
  const inspection = await findInspection(tx, declared.inspectionId);
  if (inspection === undefined) return true;
  const parsed = parseAnswers(inspection.answers);
  if (!parsed.ok) return true;
  const { parameters, resolvedHash, context } = inspection;
  const judged = { vehicle: inspection.vehicle, parameters, resolvedHash, concessions: [], ...context };
  return restsOnChange(await getRules(tx, inspection), judged, { answers: parsed.answers, vehicle, now });
}
