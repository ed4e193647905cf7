import type { Problem } from '../../api/operations.ts';
import { cellOf, type Draft, type Refusal, type Standing } from './draft.ts';
import type { Target } from './hindrances.ts';
import { buildChecks, findCell, type Items } from './points.ts';

/** One thing that the server named, and where it is on this page. */
export interface Refused {
  detail: string;
  target: Target | undefined;
}

/** What is kept of a problem document; `standing` is an extension of the sign-off's own problems. */
export function refusalOf(problem: Problem & { standing?: readonly Standing[] }): Refusal {
  const { code, detail, errors = [], standing = [] } = problem;
  return { code, detail, standing, errors: errors.map(({ pointer, detail }) => ({ pointer, detail })) };
}

/** Where on the page each part of a refusal belongs. */
export function refusedParts(draft: Draft, { errors, standing }: Refusal, items: Items): Refused[] {
  const { cells } = buildChecks(draft, items);
  return [
    ...errors.map(({ pointer, detail }) => ({ detail, target: targetOf(pointer, draft, cells) })),
    ...standing.map((one) => ({ detail: wordsOf(draft, one), target: placeOf(draft, one) })),
  ];
}

function targetOf(pointer: string, draft: Draft, cells: readonly string[]): Target | undefined {
  const [, field, index] = pointer.split('/');
  const cell = cells[Number(index)];
  if (field === 'checks' && cell !== undefined) return { kind: 'place', cell };
  if (field === 'stickerNumber') return { kind: 'sticker' };
  if (field === 'note') return { kind: 'note' };
  const condition = draft.conditions[Number(index)];
  if (field === 'conditions') {
    return condition === undefined ? { kind: 'conditions' } : { kind: 'condition', id: condition.id };
  }
  return undefined;
}

function wordsOf({ claim }: Draft, { title, message, item }: Standing): string {
  if (title !== undefined) return message === undefined || message === '' ? title : `${title}: ${message}`;
  return claim.pointsToCheck.find((point) => point.item === item)?.label ?? item ?? '';
}

function placeOf({ claim }: Draft, { items, item, position }: Standing): Target | undefined {
  const wanted = { items: items ?? (item === undefined ? [] : [item]), position };
  const cell = findCell(claim.pointsToCheck, wanted);
  return cell === undefined ? undefined : { kind: 'place', cell };
}

/** The words of a refusal for one place, to be shown there. */
export function refusedAt(draft: Draft, items: Items): ReadonlyMap<string, readonly string[]> {
  const at = new Map<string, string[]>();
  for (const { detail, target } of draft.refusal === undefined ? [] : refusedParts(draft, draft.refusal, items)) {
    if (target?.kind === 'place') at.set(target.cell, [...(at.get(target.cell) ?? []), detail]);
  }
  return at;
}

/** A claim that is over, as the server tells it; undefined for every other problem. */
export function endOf(problem: Problem & { claimedBy?: string }): Draft['ended'] {
  if (problem.code === 'not-found') return { state: 'unknown', detail: problem.detail };
  if (problem.code !== 'state-moved-on') return undefined;
  return { state: problem.currentState ?? 'over', by: problem.claimedBy, detail: problem.detail };
}

/** All cells that a claim has, for tests and focus. */
export const cellsOf = (draft: Draft): string[] => draft.claim.pointsToCheck.map(cellOf);
