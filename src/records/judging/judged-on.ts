import { parseAnswers } from '../../domain/declaration/declaration.ts';
import type { Vehicle } from '../../domain/vehicle.ts';
import type { Tx } from '../../platform/database/db.ts';
import type { LockedEntry } from '../locks/entry-lock.ts';
import { findInspection } from './inspections.ts';
import { restsOnChange } from './judge-entry.ts';
import { getRules } from './rules.ts';

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
