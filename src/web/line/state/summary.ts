import type { Items } from './checks.ts';
import { buildChecks } from './checks.ts';
import { cellOf, type Draft, isLookedAt, isTyped, type Point } from './draft.ts';

export interface Counts {
  ok: number;
  notOk: number;
  measured: number;
  notSeen: number;
}

/** How much was looked at. A place that was measured and marked counts in both. */
export function countsOf({ claim, places }: Draft): Counts {
  const entries = claim.pointsToCheck.map((point) => places[cellOf(point)]);
  return {
    ok: entries.filter((entry) => entry?.mark === 'ok').length,
    notOk: entries.filter((entry) => entry?.mark === 'not-ok').length,
    measured: entries.filter(isTyped).length,
    notSeen: entries.filter((entry) => !isLookedAt(entry)).length,
  };
}

interface Words {
  place(point: Point): string;
  mark(mark: 'ok' | 'not-ok'): string;
  sticker(number: string): string;
  condition(text: string): string;
  note(text: string): string;
}

/** All that was entered for a car, a line each, to be copied or read out when the server cannot take it any more. */
export function summaryText(draft: Draft, items: Items, words: Words): string {
  const { checks, cells } = buildChecks(draft, items);
  const points = new Map(draft.claim.pointsToCheck.map((point) => [cellOf(point), point]));
  const lines = checks.map(({ value, result, note }, index) => {
    const point = points.get(cells[index] ?? '');
    const said = result === undefined ? valueWords(value) : words.mark(result);
    const place = point === undefined ? '' : words.place(point);
    return `${place}: ${said}${note === undefined ? '' : ` (${note})`}`;
  });
  return [
    `${draft.claim.carNumber}, ${draft.claim.runGroup}, ${draft.claim.vehicle}`,
    ...lines,
    ...draft.conditions.map((condition) => words.condition(condition.text)),
    ...(draft.sticker === '' ? [] : [words.sticker(draft.sticker)]),
    ...(draft.note === '' ? [] : [words.note(draft.note)]),
  ].join('\n');
}

/** A measurement, an answer, or the parts of one. */
function valueWords(value: unknown): string {
  if (typeof value !== 'object' || value === null) return String(value);
  const parts = new Map<string, unknown>(Object.entries(value));
  if (parts.has('unit')) return `${String(parts.get('value'))} ${String(parts.get('unit'))}`;
  return [...parts].map(([name, one]) => `${name} ${valueWords(one)}`).join(', ');
}
