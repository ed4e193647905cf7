import { CATALOGUE, findItem, itemApplies, positionsFor } from './catalogue/catalogue.ts';
import type { Item } from './catalogue/item.ts';
import { type Answers, type AnswerValue, cellKey } from './declaration.ts';
import type { Finding } from './rules/finding.ts';
import { inspectFindings } from './standing-bars.ts';
import type { Vehicle } from './vehicle.ts';

/** One point at which the inspector looks or measures. */
export interface PointToCheck {
  item: string;
  position?: string;
  label: string;
  /** why it is on the list, in one sentence */
  why: string;
  /** the rule that asks for it; absent for points that are looked at on every car */
  ruleId?: string;
  /** what the entrant declared there, per part of a composite answer under `#part` */
  declared?: Readonly<Record<string, AnswerValue>>;
}

/**
 * What the line has to look at: first the points that a rule's finding asks for, then every other item that the
 * inspector answers on this car, in catalogue order. A point stands once.
 */
export function pointsToCheck(findings: readonly Finding[], answers: Answers, vehicle: Vehicle): PointToCheck[] {
  const points = new Map<string, PointToCheck>();
  for (const point of [
    ...inspectFindings(findings).flatMap(askedBy),
    ...CATALOGUE.flatMap((item) => usual(item, vehicle)),
  ]) {
    const cell = cellKey(point.item, point.position);
    const declared = declaredAt(cell, point.item, answers);
    if (!points.has(cell)) points.set(cell, declared === undefined ? point : { ...point, declared });
  }
  return [...points.values()];
}

function askedBy(finding: Finding): PointToCheck[] {
  const why = finding.message === '' ? finding.title : finding.message;
  return finding.items.map((item) => {
    const label = findItem(item)?.label ?? item;
    return { item, label, why, ruleId: finding.ruleId, ...at(finding.position) };
  });
}

function usual(item: Item, vehicle: Vehicle): PointToCheck[] {
  if (item.answeredBy === 'entrant' || !itemApplies(item, vehicle)) return [];
  const why = item.answeredBy === 'inspector' ? 'Only the line can answer this.' : 'Declared; the line checks it.';
  const positions = positionsFor(item, vehicle) ?? [undefined];
  return positions.map((position) => ({ item: item.key, label: item.label, why, ...at(position) }));
}

const at = (position: string | undefined): { position?: string } => (position === undefined ? {} : { position });

function declaredAt(cell: string, item: string, answers: Answers): Record<string, AnswerValue> | undefined {
  const type = findItem(item)?.answer;
  const names = type?.kind === 'fields' ? Object.keys(type.fields) : [undefined];
  const values = names.flatMap((name) => {
    const value = answers.get(name === undefined ? cell : `${cell}#${name}`);
    return value === undefined ? [] : [[name ?? 'value', value] as const];
  });
  return values.length === 0 ? undefined : Object.fromEntries(values);
}
