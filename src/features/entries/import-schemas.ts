import { z } from 'zod';
import { Id } from '../../http/common-schemas.ts';
import { NumberWarning } from './schemas.ts';

const Flag = z.enum(['true', 'false']).default('false');

export const ImportQuery = z.strictObject({
  partial: Flag.describe('`true`: write the good rows and report the bad ones; otherwise one bad row refuses the file'),
  dryRun: Flag.describe('`true`: report what would happen, write nothing'),
});

export const RowReport = z
  .object({
    row: z.int().describe('Number of the row as a spreadsheet counts: the header is 1'),
    carNumber: z.string().optional().describe('Exact text; absent when the cell is empty'),
    outcome: z
      .enum(['created', 'updated', 'unchanged', 'rejected'])
      .describe('What became of the row; what would have, where nothing was written'),
    entryId: Id.optional().describe('The entry; absent where there is none'),
    warnings: z
      .array(NumberWarning)
      .optional()
      .describe('Cars of the event, or of the file, whose numbers can be taken for a new one'),
    changed: z.array(z.string()).optional().describe('Columns that an updated entry had otherwise'),
    errors: z
      .array(
        z.object({
          column: z.string().optional().describe('Name of the column; absent: the row as a whole'),
          code: z.string().describe('Kind of fault, for programs'),
          detail: z.string().describe('What is wrong'),
        }),
      )
      .optional()
      .describe('Every fault of a rejected row'),
  })
  .meta({ id: 'ImportRow' });
export type RowReport = z.infer<typeof RowReport>;

export const ImportReport = z
  .object({
    dryRun: z.boolean().describe('`true`: nothing was written'),
    created: z.int().describe('Number of new entries'),
    updated: z.int().describe('Number of changed entries'),
    unchanged: z.int().describe('Number of rows that say what is known already'),
    rejected: z.int().describe('Number of bad rows'),
    numbersOfTwoCars: z
      .array(
        z.object({ carNumber: z.string().describe('Exact text'), rows: z.array(z.int()).describe('Rows that say so') }),
      )
      .describe('Numbers that would be two cars of the event; each row among the rejected ones says how'),
    rows: z.array(RowReport).describe('What became of each row, in the order of the file; empty rows are left out'),
  })
  .meta({ id: 'ImportReport' });
export type ImportReport = z.infer<typeof ImportReport>;

export const IMPORT_EXAMPLE = [
  'carNumber,runGroup,entrantName,entrantEmail,people,vehicle.description,vehicle.massKg,vehicle.caliper.front',
  '42,Novice,Ines Haldorsen,ines@example.org,driver:Ines Haldorsen; crew:Tor Brekke,"Club coupé 2.0, 2014",1210,fixed',
  '42,Advanced,Ines Haldorsen,ines@example.org,driver:Tor Brekke,,,',
  '07,Novice,Maren Oduya,,,"Roadster, 1996",,',
  '',
].join('\r\n');

export const EXPORT_EXAMPLE = [
  '\uFEFFcarNumber,runGroup,entrantName,entrantEmail,entrantPhone,entrantPersonId,people,vehicle.description,vehicle.massKg,status,reason',
  '42,Novice,Ines Haldorsen,ines@example.org,\'+4915112345,ARC-2107,driver:Ines Haldorsen,"Club coupé 2.0, 2014",1210,no-declaration,No declaration has been submitted.',
  '',
].join('\r\n');

export const IMPORT_REPORT_EXAMPLE: ImportReport = {
  dryRun: false,
  created: 1,
  updated: 1,
  unchanged: 1,
  rejected: 0,
  numbersOfTwoCars: [],
  rows: [
    {
      row: 2,
      carNumber: '42',
      outcome: 'updated',
      entryId: '019ab8f0-0000-7000-8000-0000000000e1',
      changed: ['vehicle.massKg'],
    },
    { row: 3, carNumber: '42', outcome: 'unchanged', entryId: '019ab8f0-0000-7000-8000-0000000000e2' },
    { row: 4, carNumber: '07', outcome: 'created', entryId: '019ab8f0-0000-7000-8000-0000000000e3' },
  ],
};
