import { describe, expect, test } from 'vitest';
import { type ImportRow, MAX_ROWS, readTable } from '../../../../../src/features/entries/import/csv-table.ts';

const HEAD = ['carNumber', 'runGroup', 'entrantName', 'vehicle.massKg'];
const ROWS = [
  ['7', 'Novice', 'Ines "Flash" Haldorsen, jr.', '1210.5'],
  ['07', 'Novice', 'Two\nlines', ''],
];

function rowsOf(text: string): ImportRow[] {
  const table = readTable(text);
  if (!('rows' in table)) throw new Error(JSON.stringify(table));
  return table.rows;
}

const values = (text: string) =>
  rowsOf(text).map((row) => [row.carNumber, row.runGroup, ...row.cells.map((cell) => cell.value)]);

/** Writes as RFC 4180, section 2, rules 5 to 7 say: every cell in quotes, quotes in it doubled. */
const write = (separator: string, end: string) =>
  [HEAD, ...ROWS].map((row) => row.map((cell) => `"${cell.replaceAll('"', '""')}"`).join(separator) + end).join('');

describe('one table in all its forms', () => {
  const expected = [
    ['7', 'Novice', 'Ines "Flash" Haldorsen, jr.', 1210.5],
    ['07', 'Novice', 'Two\nlines', undefined],
  ];
  test.each([
    ['commas and CRLF', ',', '\r\n'],
    ['commas and LF', ',', '\n'],
    ['commas and CR', ',', '\r'],
    ['semicolons and CRLF', ';', '\r\n'],
    ['semicolons and LF', ';', '\n'],
  ])('%s, with and without a byte order mark', (_what, separator, end) => {
    expect(values(write(separator, end))).toEqual(expected);
    expect(values(`\uFEFF${write(separator, end)}`)).toEqual(expected);
    expect(values(write(separator, end).trimEnd())).toEqual(expected);
  });

  test('semicolons with a decimal comma', () => {
    expect(values('carNumber;runGroup;vehicle.massKg\n7;Novice;1210,5\n')).toEqual([['7', 'Novice', 1210.5]]);
  });
});

test('counts rows as a spreadsheet does: a line break in a cell is no row, an empty row is one', () => {
  const text = 'carNumber,runGroup,entrantName\n1,Novice,"a\nb"\n\n,,\n2,Novice,c\n';
  expect(rowsOf(text).map((row) => [row.row, row.carNumber])).toEqual([
    [2, '1'],
    [5, '2'],
  ]);
});

test('a row that ends early says nothing about the columns it does not reach', () => {
  const [row] = rowsOf('carNumber,runGroup,entrantName,vehicle.massKg\n1,Novice,Ines\n');
  expect(row?.cells.map((cell) => cell.column.name)).toEqual(['entrantName']);
});

test('names a cell outside the header', () => {
  expect(rowsOf('carNumber,runGroup\n1,Novice,Ines\n2,Novice,,\n')[0]?.faults).toMatchObject([
    { code: 'cell-without-column' },
  ]);
  expect(rowsOf('carNumber,runGroup,\n1,Novice,\n')[0]?.faults).toEqual([]);
});

test('does not look at the columns that an export adds', () => {
  expect(values('carNumber,status,reason,runGroup\n1,held,=x,Novice\n')).toEqual([['1', 'Novice']]);
});

test.each([
  ['an unknown column', 'carNumber,runGroup,clas\n1,Novice,x\n', 1, 'clas', 'unknown-column'],
  ['a name that objects have of themselves', 'carNumber,runGroup,constructor\n', 1, 'constructor', 'unknown-column'],
  ['a column twice', 'carNumber,runGroup,people,people\n', 1, 'people', 'duplicate-column'],
  ['a missing column', 'carNumber,entrantName\n1,x\n', 1, 'runGroup', 'missing-column'],
  ['no header', '\ncarNumber,runGroup\n', 1, undefined, 'no-header'],
  ['too many columns', `carNumber,runGroup${',x'.repeat(500)}`, 1, undefined, 'too-many-columns'],
  ['a fault after empty lines', 'carNumber,runGroup\n\n\n1,"Nov\n', 4, undefined, 'malformed-csv'],
  ['nothing at all', '', 1, 'carNumber', 'missing-column'],
  ['a quote that is not closed', 'carNumber,runGroup\n1,Novice\n2,"Novice\n3,x\n', 3, undefined, 'malformed-csv'],
  ['a quote inside a cell', 'carNumber,runGroup\n1,No"vice\n', 2, undefined, 'malformed-csv'],
])('names %s', (_what, text, badRow, column, code) => {
  const table = readTable(text);
  expect(table).toMatchObject({ badRow });
  if ('rows' in table) throw new Error('was taken');
  expect(table.faults[0]?.code).toBe(code);
  expect(table.faults[0]?.column).toBe(column);
});

test('takes as many rows as allowed and no more', () => {
  const file = (count: number) =>
    `carNumber,runGroup\n${Array.from({ length: count }, (_, i) => `${i},Novice\n`).join('')}`;
  expect(rowsOf(file(MAX_ROWS))).toHaveLength(MAX_ROWS);
  expect(readTable(file(MAX_ROWS + 1))).toMatchObject({ badRow: MAX_ROWS + 2, faults: [{ code: 'too-many-rows' }] });
});

test('does not let a file of two million odd rows stop the server', () => {
  const started = performance.now();
  for (const filler of ['\n', '\r', ',\n', 'x\n', '"', ',', "'"]) {
    readTable(`carNumber,runGroup,people\n${filler.repeat(2_000_000 / filler.length)}`);
  }
  // Generous: without bounds in the reader each of the first two alone took about a minute.
  expect(performance.now() - started).toBeLessThan(20_000);
});
