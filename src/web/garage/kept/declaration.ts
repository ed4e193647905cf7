import { batch, computed, type ReadonlySignal, type Signal, signal } from '@preact/signals';
import { convert, isUnit, roundTo } from '../../../domain/quantity.ts';
import type { DraftView, EntryView, Finding, InspectionView } from '../../api/operations.ts';
import type { Session } from '../../shared/session.ts';
import type { Stops } from '../../shared/stops.ts';
import type { FormView } from './form.ts';
import type { Logs } from './logs.ts';
import { cellOf, everyPlace, type FormItem, isAsked, type Place, placeOfCell, shownOf } from './asked.ts';
import { answersOf, type Cells, cellsOfForm, isNoAnswer, type Leaf, partsBeside, sameLeaf, without } from './cells.ts';
import { changedCells, type Conflict, keepKnown, keepTyping, merge, type Pending, type WaitingPhoto } from './keep.ts';

/** Slips that people make: the decimal point left out or added, a number in another unit. Common practice, no source. */
const SLIPS = [0.1, 10, 0.01, 100, 25.4, 25.4 / 32] as const;

/** A number that such a thing hardly has, and the one that was probably meant, both as the item keeps them. */
export interface Doubt {
  value: number;
  meant: number | undefined;
  /** the server takes it when it is said a second time */
  isPossible: boolean;
}

/** Whether a number is outside of what such a thing usually has; what is possible at all is the server's to say. */
export function doubtAbout({ type }: Pick<Place, 'type'>, leaf: Leaf | undefined): Doubt | undefined {
  if (type.kind !== 'number' || type.plausible === undefined) return undefined;
  const given = valueIn(leaf, type.unit);
  const [from, to] = type.plausible;
  if (given === undefined || (given >= from && given <= to)) return undefined;
  const value = roundTo(given, type.decimals);
  const isMeant = (one: number): boolean => one > from && one <= to && one >= type.min && one <= type.max;
  const lengths = type.unit === 'mm' ? SLIPS : SLIPS.slice(0, 4);
  const meant = lengths.map((slip) => roundTo(value * slip, type.decimals)).find(isMeant);
  return { value, meant, isPossible: value >= type.min && value <= type.max };
}

function valueIn(leaf: Leaf | undefined, unit: string): number | undefined {
  if (typeof leaf === 'number') return leaf;
  if (typeof leaf !== 'object' || Array.isArray(leaf) || isNoAnswer(leaf)) return undefined;
  const { value, unit: from } = leaf as { value: number; unit: string };
  return isUnit(from) && isUnit(unit) ? convert(value, from, unit) : undefined;
}

/** Cells with a number that is in doubt and that nobody has confirmed; what the server has was confirmed. */
export function doubtedCells(
  items: readonly FormItem[],
  cells: Cells,
  { saved, confirmed }: { saved: Cells; confirmed: Cells },
): string[] {
  return items.flatMap(everyPlace).flatMap((place) => {
    const { cell } = place;
    if (doubtAbout(place, cells[cell])?.isPossible !== true) return [];
    const isSettled = sameLeaf(cells[cell], saved[cell]) || sameLeaf(cells[cell], confirmed[cell]);
    return isSettled ? [] : [cell];
  });
}

/** How what is on this device stands to the server. */
export type SyncState =
  | { kind: 'loading' | 'saved' | 'saving' | 'waiting' | 'offline' | 'conflict' | 'ended' }
  | { kind: 'failed'; why: string };

export interface Fault {
  code: string;
  detail: string;
}

/** Everything the page of one entry works with. What is typed is kept on the device first and sent afterwards. */
export interface Declaration {
  session: Session;
  entryId: string;
  /** an inspector types what the entrant says: nothing is saved as a draft, and the window does not matter */
  isTyped: boolean;
  /** under which name it is kept on this device: what an entrant typed here is not what an inspector did */
  keptAs: string;
  form: Signal<FormView | undefined>;
  entry: Signal<EntryView | undefined>;
  inspection: Signal<InspectionView | undefined>;
  base: Signal<{ rev: number; cells: Cells }>;
  cells: Signal<Cells>;
  unread: Signal<Readonly<Record<string, string>>>;
  /** cells that the last answer brought up */
  broughtUp: Signal<readonly string[]>;
  /** what the server refused, by cell */
  faults: Signal<Readonly<Record<string, Fault>>>;
  /** numbers that were in doubt and are so, said a second time */
  confirmed: Signal<Cells>;
  /** cells with a number that is not sent until it is confirmed */
  doubted: ReadonlySignal<readonly string[]>;
  verdict: Signal<DraftView['verdict'] | undefined>;
  findings: Signal<readonly Finding[]>;
  /** those of what is answered now: what is typed at the line is judged when it is submitted */
  judged: ReadonlySignal<readonly Finding[]>;
  conflicts: Signal<readonly Conflict[]>;
  /** cells that were taken over from another device */
  taken: Signal<readonly string[]>;
  pending: Signal<Pending | undefined>;
  submitFault: Signal<string | undefined>;
  waitingPhotos: Signal<readonly WaitingPhoto[]>;
  photoFault: Signal<string | undefined>;
  sync: Signal<SyncState>;
  /** the car as it was stopped on this device; undefined until that was read */
  stops: Signal<Stops | undefined>;
  /** what is written down after sessions; undefined: another page is for it */
  logs: Signal<Logs | undefined>;
  items: ReadonlySignal<readonly FormItem[]>;
  /** the items, at those of their places, that are asked by now */
  shown: ReadonlySignal<readonly FormItem[]>;
  /** cells whose value is not with the server */
  unsent: ReadonlySignal<readonly string[]>;
  /** whether anything may still be changed and submitted */
  open: ReadonlySignal<boolean>;
}

export function makeDeclaration(session: Session, entryId: string): Declaration {
  const form = signal<FormView | undefined>(undefined);
  const entry = signal<EntryView | undefined>(undefined);
  const base = signal<{ rev: number; cells: Cells }>({ rev: 0, cells: {} });
  const cells = signal<Cells>({});
  const unread = signal<Readonly<Record<string, string>>>({});
  const items = computed(() => (form.value?.items ?? []).filter(isAsked));
  const findings = signal<readonly Finding[]>([]);
  const confirmed = signal<Cells>({});
  const isTyped = session.entryId === undefined;
  const unsent = computed(() => [
    ...new Set([...changedCells(base.value.cells, cells.value), ...Object.keys(unread.value)]),
  ]);
  const isOpen = (): boolean => isTyped || form.value?.window.open === true;
  return {
    session,
    entryId,
    isTyped,
    keptAs: isTyped ? `line ${entryId}` : entryId,
    form,
    entry,
    inspection: signal(undefined),
    base,
    cells,
    unread,
    broughtUp: signal([]),
    faults: signal({}),
    confirmed,
    doubted: computed(() =>
      doubtedCells(items.value, cells.value, { saved: base.value.cells, confirmed: confirmed.value }),
    ),
    verdict: signal(undefined),
    findings,
    judged: computed(() => (isTyped ? stillTrue(findings.value, unsent.value) : findings.value)),
    conflicts: signal([]),
    taken: signal([]),
    pending: signal(undefined),
    submitFault: signal(undefined),
    waitingPhotos: signal([]),
    photoFault: signal(undefined),
    sync: signal({ kind: 'loading' }),
    stops: signal(undefined),
    logs: signal(undefined),
    items,
    shown: computed(() => shownOf(items.value, (cell) => cells.value[cell])),
    unsent,
    open: computed(() => isOpen() && entry.value?.clearance.status !== 'withdrawn'),
  };
}

/** Findings that read no item whose answers were changed since. */
function stillTrue(findings: readonly Finding[], changed: readonly string[]): readonly Finding[] {
  const keys = new Set(changed.map((cell) => placeOfCell(cell).key));
  return findings.filter(({ items }) => items.every((key) => !keys.has(key)));
}

/** Sets or clears an answer, and keeps it on the device. */
export function setCell(declaration: Declaration, cell: string, leaf: Leaf | undefined): void {
  setCells(declaration, { [cell]: leaf });
}

export function setCells(declaration: Declaration, changes: Readonly<Record<string, Leaf | undefined>>): void {
  const cells = { ...declaration.cells.value };
  for (const [cell, leaf] of Object.entries(changes)) {
    if (!isNoAnswer(leaf)) dropNoAnswer(cells, cell);
    if (leaf === undefined) delete cells[cell];
    else cells[cell] = leaf;
    if (leaf !== undefined && !isNoAnswer(leaf)) Object.assign(cells, partsBeside(cells, cell));
  }
  const touched = (cell: string): boolean => Object.hasOwn(changes, cell);
  batch(() => {
    declaration.cells.value = cells;
    declaration.unread.value = Object.fromEntries(
      Object.entries(declaration.unread.value).filter(([cell]) => !touched(cell)),
    );
    declaration.faults.value = Object.fromEntries(
      Object.entries(declaration.faults.value).filter(([cell]) => !touched(cell)),
    );
  });
  keep(declaration);
}

/** A part that is answered ends "not sure" of the whole place. */
function dropNoAnswer(cells: Record<string, Leaf>, changed: string): void {
  const { key, position } = placeOfCell(changed);
  const place = cellOf(key, position);
  for (const cell of Object.keys(cells)) {
    if ((cell === place || cell.startsWith(`${place}#`)) && isNoAnswer(cells[cell])) delete cells[cell];
  }
}

/** A number that is in doubt is so, said a second time. */
export function confirm(declaration: Declaration, cell: string): void {
  const leaf = declaration.cells.value[cell];
  if (leaf !== undefined) declaration.confirmed.value = { ...declaration.confirmed.value, [cell]: leaf };
}

/** A text that is no number: kept as typed and not sent; the answer that was there is taken back. */
export function setUnread(declaration: Declaration, cell: string, text: string): void {
  batch(() => {
    declaration.unread.value = { ...declaration.unread.value, [cell]: text };
    declaration.cells.value = without(declaration.cells.value, (one) => one === cell);
  });
  keep(declaration);
}

/** Puts what was typed on the device. */
export function keep(declaration: Declaration): void {
  const { keptAs, base, cells, unread, pending } = declaration;
  void keepTyping({
    entryId: keptAs,
    base: base.value,
    cells: cells.value,
    unread: unread.value,
    pending: pending.value,
  });
}

/** Puts what the server said on the device. */
export function keepAnswer(declaration: Declaration): void {
  const { keptAs, form, entry, inspection } = declaration;
  if (form.value === undefined) return;
  const at = new Date().toISOString();
  void keepKnown({ entryId: keptAs, form: form.value, entry: entry.value, inspection: inspection.value, at });
}

/** Takes the server's form: its limits and findings, and its answers together with what was typed here. */
export function takeForm(declaration: Declaration, form: FormView): void {
  const theirs = cellsOfForm(form.items);
  const { cells, conflicts, taken } = merge(declaration.base.value.cells, declaration.cells.value, theirs);
  const isFirst = declaration.form.value === undefined && declaration.base.value.rev === 0;
  batch(() => {
    declaration.form.value = form;
    declaration.findings.value = form.findings;
    // Of a draft that is not what is typed at the line.
    if (!declaration.isTyped) declaration.verdict.value = form.verdict;
    declaration.base.value = { rev: form.draftRev, cells: agreed(theirs, declaration.base.value.cells, conflicts) };
    declaration.cells.value = cells;
    declaration.conflicts.value = conflicts;
    if (!isFirst && taken.length > 0) declaration.taken.value = taken;
  });
  keep(declaration);
  keepAnswer(declaration);
}

/** What both sides have. Where they differ it stays as it was, so that the conflict is found again after a reload. */
function agreed(theirs: Cells, before: Cells, conflicts: readonly Conflict[]): Cells {
  return conflicts.reduce((cells, { cell }) => withCell(cells, cell, before[cell]), theirs);
}

function withCell(cells: Cells, cell: string, leaf: Leaf | undefined): Cells {
  const others = without(cells, (one) => one === cell);
  return leaf === undefined ? others : { ...others, [cell]: leaf };
}

/** Decides one conflict: for what is here now, or for what the other side has. */
export function resolve(declaration: Declaration, { cell, theirs }: Conflict, side: 'mine' | 'theirs'): void {
  const { rev, cells } = declaration.base.value;
  batch(() => {
    declaration.conflicts.value = declaration.conflicts.value.filter((one) => one.cell !== cell);
    declaration.base.value = { rev, cells: withCell(cells, cell, theirs) };
    if (side === 'theirs') setCell(declaration, cell, theirs);
  });
  keep(declaration);
}

/** What can be sent now: no faults, nothing in doubt, no half answers. */
export function sendable(declaration: Declaration): { answers: Record<string, unknown>; sent: Cells } {
  const doubted = new Set(declaration.doubted.value);
  const isHeld = (cell: string): boolean => doubted.has(cell) || Object.hasOwn(declaration.faults.value, cell);
  const refused = without(declaration.cells.value, isHeld);
  const { answers, withheld } = answersOf(declaration.items.value, refused);
  return { answers, sent: without(refused, (cell) => withheld.includes(cell)) };
}
