import type { Problem } from '../../api/operations.ts';
import { cellOf, type Worksheet, type Rejection, type Standing } from './worksheet.ts';
import type { Target } from './blockers.ts';
import { buildChecks, findCell, type Items } from './points.ts';

/** One thing that the server named, and where it is on this page. */
export interface Rejected {
  detail: string;
  target: Target | undefined;
}

/** What is kept of a problem document; `standing` is an extension of the sign-off's own problems. */
export function rejectionOf(problem: Problem & { standing?: readonly Standing[] }): Rejection {
  const { code, detail, errors = [], standing = [] } = problem;
  return { code, detail, standing, errors: errors.map(({ pointer, detail }) => ({ pointer, detail })) };
}

/** Where on the page each part of a refusal belongs. */
export function rejectedParts(worksheet: Worksheet, { errors, standing }: Rejection, items: Items): Rejected[] {
  const { cells } = buildChecks(worksheet, items);
  return [
    ...errors.map(({ pointer, detail }) => ({ detail, target: targetOf(pointer, worksheet, cells) })),
    ...standing.map((one) => ({ detail: wordsOf(worksheet, one), target: placeOf(worksheet, one) })),
  ];
}

function targetOf(pointer: string, worksheet: Worksheet, cells: readonly string[]): Target | undefined {
  const [, field, index] = pointer.split('/');
  const cell = cells[Number(index)];
  if (field === 'checks' && cell !== undefined) return { kind: 'place', cell };
  if (field === 'stickerNumber') return { kind: 'sticker' };
  if (field === 'note') return { kind: 'note' };
  const condition = worksheet.conditions[Number(index)];
  if (field === 'conditions') {
    return condition === undefined ? { kind: 'conditions' } : { kind: 'condition', id: condition.id };
  }
  return undefined;
}

function wordsOf({ claim }: Worksheet, { title, message, item }: Standing): string {
  if (title !== undefined) return message === undefined || message === '' ? title : `${title}: ${message}`;
  return claim.pointsToCheck.find((point) => point.item === item)?.label ?? item ?? '';
}

function placeOf({ claim }: Worksheet, { items, item, position }: Standing): Target | undefined {
  const wanted = { items: items ?? (item === undefined ? [] : [item]), position };
  const cell = findCell(claim.pointsToCheck, wanted);
  return cell === undefined ? undefined : { kind: 'place', cell };
}

/** The words of a refusal for one place, to be shown there. */
export function rejectedAt(worksheet: Worksheet, items: Items): ReadonlyMap<string, readonly string[]> {
  const at = new Map<string, string[]>();
  for (const { detail, target } of worksheet.refusal === undefined
    ? []
    : rejectedParts(worksheet, worksheet.refusal, items)) {
    if (target?.kind === 'place') at.set(target.cell, [...(at.get(target.cell) ?? []), detail]);
  }
  return at;
}

/** A claim that is over, as the server tells it; undefined for every other problem. */
export function endOf(problem: Problem & { claimedBy?: string }): Worksheet['ended'] {
  if (problem.code === 'not-found') return { state: 'unknown', detail: problem.detail };
  if (problem.code !== 'state-moved-on') return undefined;
  return { state: problem.currentState ?? 'over', by: problem.claimedBy, detail: problem.detail };
}

/** All cells that a claim has, for tests and focus. */
export const cellsOf = (worksheet: Worksheet): string[] => worksheet.claim.pointsToCheck.map(cellOf);
