import type { Status } from '../parts/status.tsx';
import { call } from '../../api/call.ts';
import {
  type EntryView,
  type GateList,
  getResolvedRules,
  listEntries,
  listGate,
  listInspections,
} from '../../api/operations.ts';
import type { OfficeContext } from '../parts/office-context.ts';

export interface Filter {
  /** parts of a number, a name or a car; all of them must be found */
  words: string;
  runGroupId: string;
  status: Status | '';
}

/** Without case and accents, so that `muller` finds Müller; ß is ss. */
const plain = (said: string): string =>
  said.toLowerCase().replaceAll('ß', 'ss').normalize('NFD').replaceAll(/\p{M}/gu, '');

/** The rows that fit. A word that is exactly a number is that number, and no name that has it somewhere inside. */
export function found(rows: readonly Row[], { words, runGroupId, status }: Filter): readonly Row[] {
  const wanted = plain(words)
    .split(/\s+/)
    .filter((word) => word !== '');
  const numbers = new Set(rows.map(({ carNumber }) => plain(carNumber)));
  return rows.filter((row) => {
    if (runGroupId !== '' && row.runGroupId !== runGroupId) return false;
    if (status !== '' && row.status !== status) return false;
    const number = plain(row.carNumber);
    const rest = plain([row.entrant ?? '', row.vehicle, row.runGroup].join(' '));
    return wanted.every(
      (word) => number === word || (!numbers.has(word) && number.startsWith(word)) || rest.includes(word),
    );
  });
}

export const COLUMNS = ['number', 'name', 'group', 'status', 'car'] as const;
export type Column = (typeof COLUMNS)[number];

/** 7 before 12, and 07 beside 7. */
const byNumber = (a: Row, b: Row): number => a.carNumber.localeCompare(b.carNumber, undefined, { numeric: true });

const KEYS: Record<Exclude<Column, 'number'>, (row: Row) => string> = {
  name: ({ entrant }) => entrant ?? '',
  group: ({ runGroup }) => runGroup,
  status: ({ status }) => status,
  car: ({ vehicle }) => vehicle,
};

/** In the order of a column, by number where it is the same. */
export function sorted(rows: readonly Row[], { by, down }: { by: Column; down: boolean }): readonly Row[] {
  const key = by === 'number' ? undefined : KEYS[by];
  const compare = (a: Row, b: Row): number => (key === undefined ? 0 : key(a).localeCompare(key(b))) || byNumber(a, b);
  return rows.toSorted((a, b) => (down ? -compare(a, b) : compare(a, b)));
}

export interface ReadFilter {
  carNumber: string;
  runGroupId: string;
  status: Status | '';
}

/** One line of the list, whichever way it was read. */
export interface Row {
  entryId: string;
  carNumber: string;
  runGroupId: string;
  runGroup: string;
  vehicle: string;
  status: Status;
  reason: string;
  /** only organizers are told */
  entrant?: string;
}

export interface Rows {
  rows: readonly Row[];
  next: string | undefined;
}

const PAGE = 50;

/**
 * One page of entries. An organizer reads the entries themselves; a chief, and whoever asks for a status, reads the
 * gate's list, which is always of all.
 */
export async function readRows(office: OfficeContext, filter: ReadFilter, cursor: string | undefined): Promise<Rows> {
  const { eventId, token, session } = office;
  if (session.role !== 'organizer' || filter.status !== '') {
    const { body } = await call(listGate, { params: { eventId } }, { token });
    return { rows: (body?.entries ?? []).filter((entry) => fits(entry, filter)).map(fromGate), next: undefined };
  }
  const { carNumber, runGroupId } = filter;
  const query = {
    limit: PAGE,
    ...(carNumber === '' ? {} : { carNumber }),
    ...(runGroupId === '' ? {} : { runGroupId }),
    ...(cursor === undefined ? {} : { cursor }),
  };
  const { body } = await call(listEntries, { params: { eventId }, query }, { token });
  return { rows: body.entries.map(fromEntry), next: body.next };
}

type GateEntry = GateList['entries'][number];

const fits = (entry: GateEntry, { carNumber, runGroupId, status }: ReadFilter): boolean =>
  (carNumber === '' || entry.carNumber.toUpperCase() === carNumber.toUpperCase()) &&
  (runGroupId === '' || entry.runGroupId === runGroupId) &&
  (status === '' || entry.status === status);

export function fromGate({
  entryId,
  carNumber,
  runGroupId,
  runGroup,
  vehicle,
  colour,
  status,
  reason,
}: GateEntry): Row {
  return { entryId, carNumber, runGroupId, runGroup, vehicle: described(vehicle, colour), status, reason };
}

function fromEntry({ entryId, carNumber, runGroupId, runGroup, vehicle, clearance, entrant }: EntryView): Row {
  const { status, reason } = clearance;
  const about = described(vehicle['description'], vehicle['colour']);
  return { entryId, carNumber, runGroupId, runGroup, vehicle: about, status, reason, entrant: entrant.name };
}

const described = (...parts: readonly unknown[]): string => parts.filter((part) => typeof part === 'string').join(', ');

/** A rule that an exception can be made to; `wrong`: this car does not meet it now. */
export interface Choice {
  ruleId: string;
  title: string;
  wrong: boolean;
}

/** The rules of an entry: those that its newest declaration does not meet first, then the others. */
export async function readChoices(
  { token }: OfficeContext,
  entry: EntryView,
  signal: AbortSignal,
): Promise<readonly Choice[]> {
  const options = { token, signal };
  const { entryId, runGroupId } = entry;
  const [inspections, resolved] = await Promise.all([
    call(listInspections, { params: { entryId } }, options),
    call(getResolvedRules, { params: { runGroupId } }, options),
  ]);
  const newest = inspections.body.inspections.toSorted((a, b) => b.revision - a.revision)[0];
  const choices = new Map<string, Choice>();
  for (const { ruleId, title, result, counts } of newest?.findings ?? []) {
    if (result !== 'met' && counts !== 'no') choices.set(ruleId, { ruleId, title, wrong: true });
  }
  for (const { rule } of resolved.body.rules) {
    const { id, title } = rule;
    if (typeof id !== 'string' || choices.has(id)) continue;
    choices.set(id, { ruleId: id, title: typeof title === 'string' ? title : id, wrong: false });
  }
  return [...choices.values()];
}
