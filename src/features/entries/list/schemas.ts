import { z } from 'zod';
import { line, named } from '../../../http/frame/common-schemas.ts';
import { MAX_COLUMNS, MAX_RECORDS } from '../import/csv-table.ts';
import { DELIMITERS, ENCODINGS } from './cut.ts';
import { TARGETS } from './targets.ts';

const MAX_BYTES = 2 * 1024 * 1024;
/** Of a request: the file in base64, and how it is to be read. */
export const LIST_BODY_BYTES = Math.ceil((MAX_BYTES * 4) / 3) + 256 * 1024;
const MOST_GROUPS = 200;

const to = z
  .enum(TARGETS as [string, ...string[]])
  .nullable()
  .describe('Column of our own files that it is, `entrantFirstName` or `entrantLastName`; null: left out');

/** How a file is to be read; what is not said is found. */
export const Reading = z
  .strictObject({
    encoding: z.enum(ENCODINGS).optional().describe('Encoding of a file of text'),
    delimiter: z.enum(DELIMITERS).optional().describe('What separates the cells of a file of text'),
    sheet: z.string().max(120).optional().describe('Name of the sheet of a workbook'),
    headerRow: z.int().min(1).max(MAX_RECORDS).optional().describe('Row in which the names of the columns stand'),
    columns: z
      .array(z.strictObject({ at: z.int().min(1).max(MAX_COLUMNS).describe('Place of the column, from 1'), to }))
      .max(MAX_COLUMNS)
      .optional()
      .describe('Where columns go; others go where they did last time, or where their names say'),
    ignoreOthers: z.boolean().optional().describe('`true`: columns that nobody knows are left out'),
    groups: z
      .array(
        z.strictObject({
          written: z.string().max(120).describe('As it stands in the file'),
          group: named(80).describe('Name of the run group'),
        }),
      )
      .max(MOST_GROUPS)
      .optional()
      .describe('Which run group of the event a class or group of the file is'),
    group: line(80).optional().describe('Name of the run group of rows that name none'),
    emptyCells: z
      .enum(['leave', 'clear'])
      .optional()
      .describe(
        'What an empty cell says of a car that is entered: nothing, or that the value is taken away. `leave` unless told',
      ),
  })
  .meta({ id: 'ListReading' });
export type Reading = z.infer<typeof Reading>;

const file = z
  .base64()
  .describe(`The file, as base64: CSV or other text in columns, or .xlsx; at most ${MAX_BYTES} bytes`);

export const LookAtList = z
  .strictObject({ file, reading: Reading.optional().describe('How to read it; leave out what is to be found') })
  .meta({ id: 'LookAtList' });

export const ImportList = z
  .strictObject({
    file,
    reading: Reading.optional().describe('How to read it, as `lookAtList` shows it'),
    partial: z
      .boolean()
      .optional()
      .describe('`true`: write the good rows and report the bad ones; otherwise one bad row refuses the file'),
    dryRun: z.boolean().optional().describe('`true`: report what would happen, write nothing'),
  })
  .meta({ id: 'ImportListRequest' });

export const ListLook = z
  .object({
    kind: z.enum(['text', 'workbook']).describe('What the file is'),
    encoding: z.enum(ENCODINGS).optional().describe('Encoding that a text is read in'),
    delimiter: z.enum(DELIMITERS).optional().describe('What separates the cells of a text'),
    sheets: z.array(z.string()).optional().describe('Sheets of a workbook'),
    sheet: z.string().optional().describe('The sheet that is read'),
    headerRow: z.int().describe('Row in which the names of the columns stand; rows above it are left out'),
    rows: z.int().describe('Number of rows below it, empty ones not counted'),
    top: z
      .array(
        z.object({
          row: z.int().describe('As a spreadsheet counts'),
          cells: z.array(z.string()).describe('Cells, cut'),
        }),
      )
      .describe('The first rows as they stand in the file, to choose the header from'),
    columns: z
      .array(
        z.object({
          at: z.int().describe('Place, from 1'),
          name: z.string().describe('As it stands in the header'),
          samples: z.array(z.string()).describe('What stands in it, up to three'),
          filled: z.int().describe('Number of rows in which something stands'),
          to: z.string().nullable().optional().describe('Where it goes; null: nowhere; absent: nobody has said yet'),
          because: z
            .enum(['own', 'guessed', 'remembered', 'personal', 'said'])
            .optional()
            .describe(
              'Why: our own name; guessed by its name; as last time; about a person and not needed; the request said so',
            ),
        }),
      )
      .describe('The columns of the file'),
    groups: z
      .array(
        z.object({
          written: z.string().describe('As it stands in the file; empty: rows that name none'),
          rows: z.int().describe('Number of rows'),
          group: z.string().optional().describe('The run group that it is; absent: none of the event yet'),
        }),
      )
      .describe('Classes or groups that the file names'),
    ours: z.boolean().describe('Whether all columns have the names of our own export'),
    lostLetters: z.int().describe('Number of rows with U+FFFD: letters that were lost before'),
    targets: z.array(z.string()).describe('What a column can be'),
  })
  .meta({ id: 'ListLook' });
export type ListLook = z.infer<typeof ListLook>;

const text = 'Startnr.;Vorname;Nachname;Fahrzeug;Klasse;Geburtsjahr\r\n42;Ines;Haldorsen;Coupé 2.0;Einsteiger;1987\r\n';
export const LIST_EXAMPLE = {
  file: Buffer.from(text).toString('base64'),
  reading: { groups: [{ written: 'Einsteiger', group: 'Novice' }] },
};

const column = (at: number, name: string, sample: string, goes: string | null, because: 'guessed' | 'personal') => ({
  at,
  name,
  samples: [sample],
  filled: 1,
  to: goes,
  because,
});

export const LOOK_EXAMPLE: ListLook = {
  kind: 'text',
  encoding: 'utf-8',
  delimiter: ';',
  headerRow: 1,
  rows: 1,
  top: text
    .trim()
    .split('\r\n')
    .map((row, at) => ({ row: at + 1, cells: row.split(';') })),
  columns: [
    column(1, 'Startnr.', '42', 'carNumber', 'guessed'),
    column(2, 'Vorname', 'Ines', 'entrantFirstName', 'guessed'),
    column(3, 'Nachname', 'Haldorsen', 'entrantLastName', 'guessed'),
    column(4, 'Fahrzeug', 'Coupé 2.0', 'vehicle.description', 'guessed'),
    column(5, 'Klasse', 'Einsteiger', 'runGroup', 'guessed'),
    column(6, 'Geburtsjahr', '1987', null, 'personal'),
  ],
  groups: [{ written: 'Einsteiger', rows: 1, group: 'Novice' }],
  ours: false,
  lostLetters: 0,
  targets: ['carNumber', 'runGroup', 'entrantName', 'vehicle.description'],
};
