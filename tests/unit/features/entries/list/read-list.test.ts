import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import type { ImportRow } from '../../../../../src/features/entries/import/csv-table.ts';
import { encodingOf } from '../../../../../src/features/entries/list/cut.ts';
import { type Beside, readList, tableOf, wordsOf } from '../../../../../src/features/entries/list/read-list.task.ts';
import type { Reading } from '../../../../../src/features/entries/list/schemas.ts';

// The files were written by other programs than ours: text by the `csv` module and codecs of Python 3.11, workbooks part by
// part as ECMA-376 (part 1, 5th edition, sections 12 and 18) describes them. What each must read as is what was put in.
const FOLDER = new URL('../../../../fixtures/lists/', import.meta.url);
const fileOf = (name: string) => readFileSync(new URL(name, FOLDER));

const BESIDE: Beside = { columns: new Map(), groups: new Map(), eventGroups: ['Novice', 'Advanced'] };

async function look(name: string | Buffer, reading: Reading = {}, beside = BESIDE) {
  const list = await readList(typeof name === 'string' ? fileOf(name) : name, reading, beside);
  if ('badRow' in list) throw new Error(JSON.stringify(list));
  return list.look;
}

async function rows(name: string | Buffer, reading: Reading = {}, beside = BESIDE): Promise<ImportRow[]> {
  const list = await readList(typeof name === 'string' ? fileOf(name) : name, reading, beside);
  const table = 'badRow' in list ? list : tableOf(list, reading, beside);
  if (!('rows' in table)) throw new Error(JSON.stringify(table));
  return table.rows;
}

/** Number, group, and the other cells by column. */
const told = (list: readonly ImportRow[]) =>
  list.map(({ carNumber, runGroup, cells }) => [
    carNumber,
    runGroup,
    Object.fromEntries(cells.map(({ column, value }) => [column.name, value])),
  ]);

const others = { ignoreOthers: true };
const classes = [
  { written: 'Einsteiger', group: 'Novice' },
  { written: 'Fortgeschrittene', group: 'Advanced' },
  { written: 'Könner', group: 'Advanced' },
];

describe('what a file is', () => {
  test.each([
    ['01-nennliste-1252.csv', { encoding: 'windows-1252', delimiter: ';', headerRow: 3, rows: 3 }],
    ['02-unicode-text.txt', { encoding: 'utf-16le', delimiter: '\t', headerRow: 1, rows: 2 }],
    ['03-export-utf8.csv', { encoding: 'utf-8', delimiter: ',', headerRow: 1, rows: 2 }],
    ['04-sep-line.csv', { encoding: 'utf-8', delimiter: ';', headerRow: 2, rows: 2 }],
    ['05-bars.txt', { encoding: 'utf-8', delimiter: '|', headerRow: 1, rows: 2 }],
    ['06-utf16be.csv', { encoding: 'utf-16be', delimiter: ',', headerRow: 1, rows: 1 }],
    ['07-entries.xlsx', { kind: 'workbook', sheet: 'Entries', headerRow: 3, rows: 3 }],
    ['08-teilnehmer.xlsx', { kind: 'workbook', sheet: 'Teilnehmer', headerRow: 1, rows: 2 }],
    ['09-no-class.csv', { encoding: 'utf-8', delimiter: ',', headerRow: 4, rows: 2 }],
    ['10-lost-letters.csv', { encoding: 'utf-8', delimiter: ';', lostLetters: 1 }],
  ])('%s', async (name, expected) => {
    expect(await look(name)).toMatchObject(expected);
  });

  test('UTF-16 without a mark is told by its zero bytes', () => {
    expect(encodingOf(Buffer.from('Startnummer;Name\r\n7;Jürgen', 'utf16le'))).toBe('utf-16le');
    expect(encodingOf(Buffer.from('Startnummer;Name\r\n7;Jürgen', 'utf16le').swap16())).toBe('utf-16be');
  });

  test('a person may say otherwise', async () => {
    const said = await look('01-nennliste-1252.csv', { encoding: 'utf-8', headerRow: 4 });
    expect(said).toMatchObject({ encoding: 'utf-8', headerRow: 4, lostLetters: 2 });
  });
});

describe('where columns go', () => {
  test('by their names; what is about people is left out; what nobody knows stays open', async () => {
    const { columns } = await look('01-nennliste-1252.csv');
    expect(columns.map(({ name, to, because }) => [name, to, because])).toEqual([
      ['Lfd.', undefined, undefined],
      ['Nachname', 'entrantLastName', 'guessed'],
      ['Vorname', 'entrantFirstName', 'guessed'],
      ['Startnr.', 'carNumber', 'guessed'],
      ['Klasse', 'runGroup', 'guessed'],
      ['Fahrzeug', 'vehicle.description', 'guessed'],
      ['Baujahr', 'vehicle.description', 'guessed'],
      ['Geburtsdatum', null, 'personal'],
      ['E-Mail', 'entrantEmail', 'guessed'],
      ['Nenngeld', undefined, undefined],
    ]);
  });

  test('a column that nobody has spoken of keeps the file out, and is named', async () => {
    await expect(rows('01-nennliste-1252.csv', { groups: classes })).rejects.toThrow(
      /"column":"Lfd\.".*"column":"Nenngeld"/,
    );
  });

  test('what was said once is known of the next file', async () => {
    const reading: Reading = {
      columns: [
        { at: 1, to: null },
        { at: 10, to: null },
      ],
      groups: classes,
    };
    const first = await look('01-nennliste-1252.csv', reading);
    const { columns, groups } = wordsOf(first);
    const beside = { ...BESIDE, columns: new Map(columns), groups: new Map(groups) };
    expect(told(await rows('01-nennliste-1252.csv', {}, beside))).toEqual(
      told(await rows('01-nennliste-1252.csv', reading)),
    );
  });

  test('a class is a group of the same name but for case; others are asked', async () => {
    expect((await look('02-unicode-text.txt')).groups).toEqual([
      { written: 'NOVICE', rows: 1, group: 'Novice' },
      { written: 'Advanced', rows: 1, group: 'Advanced' },
    ]);
    expect((await look('01-nennliste-1252.csv')).groups).toEqual([
      { written: 'Einsteiger', rows: 2 },
      { written: 'Fortgeschrittene', rows: 1 },
    ]);
  });
});

describe('what stands in the rows', () => {
  test('German list in Windows-1252: every letter is there, 7 and 07 are two cars', async () => {
    expect(told(await rows('01-nennliste-1252.csv', { ...others, groups: classes }))).toEqual([
      [
        '7',
        'Novice',
        { entrantName: 'Jürgen Großkopf', 'vehicle.description': 'Coupé 2.0 2014', entrantEmail: 'jg@example.org' },
      ],
      [
        '07',
        'Advanced',
        { entrantName: 'Käthe Müller', 'vehicle.description': 'Roadster 1996', entrantEmail: 'kaethe@example.org' },
      ],
      ['112', 'Novice', { entrantName: 'Ayse Öztürk', 'vehicle.description': 'Kombi 1.8 2009' }],
    ]);
  });

  test('UTF-16 with tabs; make, model and year are put together', async () => {
    expect(told(await rows('02-unicode-text.txt'))).toEqual([
      [
        '21',
        'Novice',
        { entrantName: 'Łukasz Brzęk', 'vehicle.description': 'Hatch GT 2011', 'vehicle.colour': 'red' },
      ],
      [
        '22',
        'Advanced',
        { entrantName: 'Zoë Ålander', 'vehicle.description': 'Saloon 2.5 2003', 'vehicle.colour': 'navy blue' },
      ],
    ]);
  });

  test('quotes and line breaks within cells', async () => {
    expect(told(await rows('03-export-utf8.csv', others))[1]).toEqual([
      '43',
      'Advanced',
      { entrantName: 'Tor Brekke', entrantEmail: 'tor@example.org', 'vehicle.description': 'Estate 3.0 long' },
    ]);
  });

  test('a decimal comma is one; a number that can be read in two ways is refused', async () => {
    const [first] = await rows('04-sep-line.csv');
    expect(first?.cells.find(({ column }) => column.name === 'vehicle.massKg')?.value).toBe(1450.5);
    const two = Buffer.from('Startnummer;Name;Gruppe;Fahrzeug;Gewicht kg\r\n1;A B;Novice;Kombi;1.450\r\n');
    expect((await rows(two))[0]?.faults).toMatchObject([{ column: 'vehicle.massKg', code: 'two-numbers' }]);
  });

  test('bars, and UTF-16BE with bare carriage returns', async () => {
    expect(told(await rows('05-bars.txt'))[0]).toEqual([
      '301',
      'Novice',
      { entrantName: 'Maren Oduya', 'vehicle.description': 'Roadster, 1996' },
    ]);
    expect(told(await rows('06-utf16be.csv'))).toEqual([
      ['55', 'Advanced', { entrantName: 'Renée Dûpré', 'vehicle.description': 'Berline' }],
    ]);
  });

  test('workbook: a number is read as its format shows it, a formula by its result, a long number whole', async () => {
    expect(told(await rows('07-entries.xlsx', others))).toEqual([
      [
        '07',
        'Novice',
        {
          entrantName: 'Ines Haldorsen',
          entrantEmail: 'ines@example.org',
          entrantPhone: '4915112345678',
          'vehicle.description': 'Coupé 2.0',
        },
      ],
      ['7', 'Advanced', { entrantName: 'Tor Brekke', 'vehicle.description': 'Roadster' }],
      ['12A', 'Novice', { entrantName: 'Zoë Ålander', 'vehicle.description': 'Estate' }],
    ]);
  });

  test('workbook: the sheet with the list, text in pieces; the birth year is not kept', async () => {
    expect(told(await rows('08-teilnehmer.xlsx', { groups: classes }))).toEqual([
      [
        '77',
        'Novice',
        { entrantName: 'Käthe Müller', 'vehicle.description': 'Limousine 2.0', 'vehicle.colour': 'grün' },
      ],
      ['78', 'Advanced', { entrantName: 'Jörg Weiß', 'vehicle.description': 'Kombi', 'vehicle.colour': 'weiß' }],
    ]);
  });

  test('a list without classes needs one group for all', async () => {
    await expect(rows('09-no-class.csv')).rejects.toThrow('missing-column');
    expect(told(await rows('09-no-class.csv', { group: 'Novice' }))).toEqual([
      ['9', 'Novice', { entrantName: 'Kaja Brandvold', 'vehicle.description': 'Saloon 2.0', entrantPersonId: 'M-100' }],
      ['10', 'Novice', { entrantName: 'Ola Nesse', 'vehicle.description': 'Hatchback', entrantPersonId: 'M-101' }],
    ]);
  });

  test('letters that were lost before are refused, row by row', async () => {
    const [lost, whole] = await rows('10-lost-letters.csv');
    expect(lost?.faults.map(({ column, code }) => `${column} ${code}`).toSorted()).toEqual([
      'entrantName decoded-wrongly',
      'vehicle.description decoded-wrongly',
    ]);
    expect(whole?.faults).toEqual([]);
  });

  test('an empty cell takes nothing away unless told', async () => {
    const names = (list: ImportRow[]) => list[1]?.cells.map(({ column, value }) => [column.name, value]);
    expect(names(await rows('03-export-utf8.csv', others))).not.toContainEqual(['entrantPhone', undefined]);
    const clearing = await rows('03-export-utf8.csv', { ...others, emptyCells: 'clear' });
    expect(names(clearing)).toContainEqual(['entrantPhone', undefined]);
  });
});

describe('what is no list', () => {
  test.each([
    ['nothing', Buffer.alloc(0)],
    ['a cut workbook', fileOf('07-entries.xlsx').subarray(0, 900)],
    ['zeros', Buffer.alloc(3000)],
  ])('%s is refused with its place', async (_, bytes) => {
    const list = await readList(bytes, {}, BESIDE);
    const table = 'badRow' in list ? list : tableOf(list, {}, BESIDE);
    expect(table).toMatchObject({ badRow: expect.any(Number), faults: [{ detail: expect.stringMatching(/\w{4}/) }] });
  });

  test('a workbook that grows without measure is not unpacked', async () => {
    const bytes = Buffer.from(fileOf('07-entries.xlsx'));
    // The size of the first part, in the central directory.
    bytes.writeUInt32LE(900_000_000, bytes.indexOf(Buffer.from([0x50, 0x4b, 0x01, 0x02])) + 24);
    expect(await readList(bytes, {}, BESIDE)).toMatchObject({ faults: [{ code: 'workbook-too-large' }] });
  });
});
