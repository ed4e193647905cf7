import { type ConcessionState, concessionState, MANY_CONCESSIONS } from '../../domain/concession.ts';
import type { Rule } from '../../domain/rules/rule-set.ts';
import type { Tx } from '../../platform/db.ts';
import { getRules } from '../../records/rules.ts';
import { carOf, type Known, standing } from './known.ts';
import type { ReadinessView } from './schemas.ts';
import type { GroupState, ReadyEntry } from './store.ts';

type Judge = GroupState & { rules: readonly Rule[] };

function countIn(entry: ReadyEntry, judge: Judge | undefined, state: ConcessionState, now: Date): number {
  if (judge === undefined) return 0;
  return entry.concessions.filter((one) => concessionState(one, judge, now) === state).length;
}

/** Exceptions as they stand under the rules that judge each entry's run group now. */
export async function viewConcessions(db: Tx, { event, entries, now }: Known): Promise<ReadinessView['concessions']> {
  const cars = standing(entries).filter((entry) => entry.concessions.length > 0);
  const judges = new Map<string, Judge>();
  for (const group of event.groups) {
    if (!cars.some((entry) => entry.runGroupId === group.runGroupId)) continue;
    const { compiled } = await getRules(db, group);
    judges.set(group.runGroupId, { ...group, rules: compiled.ruleSet.rules });
  }
  const count = (entry: ReadyEntry, state: ConcessionState) => countIn(entry, judges.get(entry.runGroupId), state, now);
  const inForce = cars.map((entry) => ({ ...carOf(event, entry), inForce: count(entry, 'in-force') }));
  return {
    inForce: inForce.reduce((sum, car) => sum + car.inForce, 0),
    awaitingApproval: cars.reduce((sum, entry) => sum + count(entry, 'awaiting-approval'), 0),
    manyConcessions: inForce.filter((car) => car.inForce >= MANY_CONCESSIONS),
  };
}
