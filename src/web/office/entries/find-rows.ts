import type { Status } from '../parts/status.tsx';
import type { Row } from './read-rows.ts';

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
