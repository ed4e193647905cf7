import {
  type CheckedPoint,
  saysHowItIs,
  uncheckedFindings,
  type ValuesOf,
} from '../../../domain/line/line-judgement.ts';
import type { Finding as DomainFinding } from '../../../domain/rules/model/finding.ts';
import type { Finding, Problem } from '../../api/operations.ts';
import {
  cellOf,
  type ConditionEntry,
  type Decision,
  isLookedAt,
  isTyped,
  type Point,
  type Rejection,
  type Standing,
  type Worksheet,
} from './worksheet.ts';
import { buildChecks, findCell, type Items } from './points.ts';

/** Where something is missing: a place on the car, or a field of the decision. */
export type Target =
  | { kind: 'place'; cell: string }
  | { kind: 'sticker' }
  | { kind: 'note' }
  | { kind: 'condition'; id: string }
  | { kind: 'conditions' };

export interface Blocker {
  /** `must`: cannot be sent so; `refused`: the server will say no, unless it knows better */
  weight: 'must' | 'refused';
  key:
    | 'hinders.sticker'
    | 'hinders.sticker-form'
    | 'hinders.note'
    | 'hinders.conditions'
    | 'hinders.condition-text'
    | 'hinders.condition-due'
    | 'hinders.value'
    | 'hinders.unchecked'
    | 'hinders.needs-value'
    | 'hinders.not-ok'
    | 'hinders.bar';
  values: Readonly<Record<string, string>>;
  target: Target | undefined;
}

/** As the server wants it. */
const STICKER = /^[0-9A-Za-z-]{1,12}$/;
export const isSticker = (number: string): boolean => STICKER.test(number);

/** What stands in the way of a decision, as far as this device can tell; the server has the last word. */
export function blockersOf(worksheet: Worksheet, decision: Decision, items: Items, now: number): Blocker[] {
  const missing = decision === 'refuse' ? reasonMissing(worksheet) : stickerMissing(worksheet);
  const conditions = decision === 'accept-with-conditions' ? conditionFaults(worksheet, now) : [];
  const points =
    decision === 'refuse'
      ? []
      : [...notYetSeen(worksheet), ...openFindings(worksheet, items), ...notOk(worksheet, decision)];
  return [...valueFaults(worksheet, items), ...points, ...conditions, ...missing];
}

function reasonMissing({ note }: Worksheet): Blocker[] {
  return note.trim() === '' ? [{ weight: 'must', key: 'hinders.note', values: {}, target: { kind: 'note' } }] : [];
}

function stickerMissing({ sticker }: Worksheet): Blocker[] {
  const key = sticker.trim() === '' ? 'hinders.sticker' : 'hinders.sticker-form';
  if (isSticker(sticker.trim())) return [];
  return [{ weight: 'must', key, values: {}, target: { kind: 'sticker' } }];
}

function conditionFaults({ conditions, firstSessionAt }: Worksheet, now: number): Blocker[] {
  if (conditions.length === 0) {
    return [{ weight: 'must', key: 'hinders.conditions', values: {}, target: { kind: 'conditions' } }];
  }
  return conditions.flatMap((condition): Blocker[] => {
    const target: Target = { kind: 'condition', id: condition.id };
    const { text } = condition;
    if (text.trim() === '') return [{ weight: 'must', key: 'hinders.condition-text', values: {}, target }];
    const due = dueAt(condition, firstSessionAt);
    const isFine = condition.due === 'none' || (due !== undefined && Date.parse(due) > now);
    return isFine ? [] : [{ weight: 'must', key: 'hinders.condition-due', values: { text }, target }];
  });
}

/** The instant by which a condition must be done; undefined without one, or while it is not a time. */
export function dueAt({ due, time, at }: ConditionEntry, firstSessionAt: string | undefined): string | undefined {
  if (at !== undefined) return at;
  // One that was kept before instants were.
  if (due === 'first-session') return firstSessionAt;
  const instant = due === 'time' ? new Date(time ?? '') : undefined;
  return instant === undefined || Number.isNaN(instant.getTime()) ? undefined : instant.toISOString();
}

function valueFaults(worksheet: Worksheet, items: Items): Blocker[] {
  return buildChecks(worksheet, items).faults.map(({ cell }) => ({
    weight: 'must',
    key: 'hinders.value',
    values: { point: labelOf(worksheet, cell) },
    target: { kind: 'place', cell },
  }));
}

const labelOf = ({ claim }: Worksheet, cell: string): string =>
  claim.pointsToCheck.find((point) => cellOf(point) === cell)?.label ?? cell;

/** Findings that nobody looked at, that only a measurement can answer, or that bar the car. */
function openFindings(worksheet: Worksheet, items: Items): Blocker[] {
  const { claim, places } = worksheet;
  const done = claim.pointsToCheck.flatMap((point): CheckedPoint[] => {
    const { item, position, doneFor } = point;
    const entry = places[cellOf(point)];
    const isDone = doneFor?.counts === true;
    if (!isLookedAt(entry) && !isDone) return [];
    // Of an answer that has no parts it may be that nobody saw it, which is no measurement here as there.
    const saysHow = isTyped(entry) && (entry?.typed?.['value'] === undefined || saysHowItIs(entry.typed['value']));
    return [{ item, position, measured: saysHow || (isDone && doneFor?.value !== undefined) }];
  });
  const findings = claim.findings.filter((finding) => finding.counts === 'inspect' || finding.counts === 'bar');
  return findings.flatMap((finding): Blocker[] => {
    const key = whyOpen(finding, done, valuesOf(worksheet, items));
    if (key === undefined) return [];
    const cell = findCell(claim.pointsToCheck, finding);
    const target: Target | undefined = cell === undefined ? undefined : { kind: 'place', cell };
    return [{ weight: 'refused', key, values: { rule: finding.title, message: finding.message }, target }];
  });
}

/** Where a value can be given, as the server's points and the catalogue say. */
function valuesOf({ claim }: Worksheet, items: Items): ValuesOf {
  return (key) => {
    const item = items.get(key);
    if (item === undefined || item.answeredBy === 'entrant') return undefined;
    const { answer } = item;
    const types = answer.kind === 'fields' ? Object.values(answer.fields).map(({ type }) => type) : [answer];
    const own = claim.pointsToCheck.filter((point) => point.item === key).map(({ position }) => position);
    const positions = item.positions === undefined ? [undefined] : own.filter((position) => position !== undefined);
    const isReadOff = answer.kind === 'date' || answer.kind === 'text';
    const isNumber = types.some(({ kind }) => kind === 'number');
    return { positions, isNumber, isReadOff, detailOf: item.detailOf };
  };
}

function whyOpen(finding: Finding, done: readonly CheckedPoint[], values: ValuesOf): Blocker['key'] | undefined {
  const isOpen = (asked: Partial<Finding>): boolean => {
    // by the same rule as the server's: it is the same function
    const one = { ...finding, ...asked, counts: 'inspect' } as unknown as DomainFinding;
    return uncheckedFindings([one], done, values).length > 0;
  };
  if (finding.counts === 'bar') return isOpen({ clearedBy: 'measure' }) ? 'hinders.bar' : undefined;
  if (!isOpen({})) return undefined;
  return finding.clearedBy === 'measure' ? 'hinders.needs-value' : 'hinders.unchecked';
}

/** What the group looks at on every car and nobody has yet. */
function notYetSeen({ claim, places }: Worksheet): Blocker[] {
  return claim.pointsToCheck.flatMap((point): Blocker[] => {
    if (point.asked !== 'always' || point.doneFor?.counts === true || isLookedAt(places[cellOf(point)])) return [];
    if (isSeenByPlace(point, claim.pointsToCheck, places)) return [];
    const values = { rule: point.always?.title ?? point.label, message: point.label };
    return [{ weight: 'refused', key: 'hinders.unchecked', values, target: { kind: 'place', cell: cellOf(point) } }];
  });
}

/** Looked at place by place instead of once for the car. */
function isSeenByPlace({ item }: { item: string }, points: readonly Point[], places: Worksheet['places']): boolean {
  const own = points.filter((point) => point.item === item && point.position !== undefined);
  return own.length > 0 && own.every((point) => isLookedAt(places[cellOf(point)]));
}

function notOk(worksheet: Worksheet, decision: Decision): Blocker[] {
  if (decision !== 'accept') return [];
  return worksheet.claim.pointsToCheck.flatMap((point): Blocker[] => {
    const cell = cellOf(point);
    if (worksheet.places[cell]?.mark !== 'not-ok') return [];
    const values = { point: point.label };
    return [{ weight: 'refused', key: 'hinders.not-ok', values, target: { kind: 'place', cell } }];
  });
}

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
