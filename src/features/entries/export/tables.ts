import { findingWhere } from './store.ts';
import { COLUMNS, READ_ONLY_COLUMNS } from '../import/csv-columns.ts';

/** What can be taken along as a table. */
export const KINDS = ['entries', 'findings', 'sign-offs'] as const;
export type Kind = (typeof KINDS)[number];

export type Value = string | number | boolean | null;
/** A row by the names of its columns. */
export type Row = Readonly<Record<string, Value | undefined>>;

const ENTRY_USUAL = [
  'carNumber',
  'runGroup',
  'entrantName',
  'entrantEmail',
  'entrantPhone',
  'vehicle.description',
  'vehicle.colour',
  'status',
  'reason',
];

/** The columns of each table in their order; those that are written when nobody chooses are `usual`. */
export const TABLES: Readonly<Record<Kind, { columns: readonly string[]; usual: readonly string[] }>> = {
  entries: { columns: [...COLUMNS, ...READ_ONLY_COLUMNS].map(({ name }) => name), usual: ENTRY_USUAL },
  findings: {
    columns: [
      'carNumber',
      'runGroup',
      'entrantName',
      'vehicle.description',
      'submittedAt',
      'verdict',
      ...Object.keys(findingWhere),
    ],
    usual: [
      'carNumber',
      'runGroup',
      'entrantName',
      'counts',
      'title',
      'position',
      'measured',
      'limit',
      'message',
      'fix',
    ],
  },
  'sign-offs': {
    columns: [
      'carNumber',
      'runGroup',
      'entrantName',
      'vehicle.description',
      'signedAt',
      'signedBy',
      'decision',
      'stickerNumber',
      'note',
      'conditions',
      'openConditions',
      'validUntil',
    ],
    usual: [
      'carNumber',
      'runGroup',
      'entrantName',
      'signedAt',
      'signedBy',
      'decision',
      'stickerNumber',
      'note',
      'conditions',
    ],
  },
};
