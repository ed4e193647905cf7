import type { Tx } from '../../../platform/database/db.ts';
import { Prisma } from '../../../platform/prisma-client/client.ts';
import { COLUMNS, READ_ONLY_COLUMNS } from '../import/csv-columns.ts';

/** Members of a finding as columns: name of the column, and where it stands in what is stored. */
const findingWhere = {
  counts: `f->>'counts'`,
  result: `f->>'result'`,
  ruleId: `f->>'ruleId'`,
  title: `f->>'title'`,
  position: `f->>'position'`,
  measured: `concat_ws(' ', f->'measured'->>'value', f->'measured'->>'unit')`,
  limit: `f->>'limit'`,
  margin: `concat_ws(' ', f->'margin'->>'value', f->'margin'->>'unit')`,
  message: `f->>'message'`,
  fix: `f->>'fix'`,
} as const;

const members = Prisma.raw(
  Object.entries(findingWhere)
    .map(([name, sql]) => `'${name}', ${sql}`)
    .join(', '),
);

/** Day and time at the venue. */
const local = (column: string) => Prisma.raw(`to_char(${column} AT TIME ZONE ev.time_zone, 'YYYY-MM-DD HH24:MI')`);

const ABOUT = Prisma.sql`'carNumber', e.car_number, 'runGroup', g.name, 'entrantName', e.entrant->>'name',
  'vehicle.description', v.record->>'description'`;

const FROM = Prisma.sql`
  FROM entries e JOIN run_groups g ON g.id = e.run_group_id JOIN vehicles v ON v.id = e.vehicle_id
    JOIN (SELECT ev.id, n.time_zone FROM events ev JOIN venues n ON n.id = ev.venue_id) ev ON ev.id = e.event_id`;

const ORDER = Prisma.sql`ORDER BY g.sort_order, g.name, length(e.car_number), e.car_number, e.id`;

/** What is not as it should be in the newest declaration of each entry, by run group and number; what counts most first. */
export async function listFindingRows(db: Tx, eventId: string): Promise<Row[]> {
  const rows = await db.$queryRaw<{ row: Row }[]>`
    SELECT jsonb_build_object(${ABOUT}, 'submittedAt', ${local('i.submitted_at')}, 'verdict', i.verdict, ${members}) AS row
    ${FROM}
    JOIN LATERAL (SELECT * FROM inspections i WHERE i.entry_id = e.id ORDER BY i.revision DESC LIMIT 1) i ON true
    CROSS JOIN LATERAL jsonb_path_query(i.findings, '$[*] ? (@.result != "met" && @.counts != "no")') AS f
    WHERE e.event_id = ${eventId}::uuid
    ${ORDER}, array_position(ARRAY['bar', 'inspect', 'advise'], f->>'counts'), f->>'ruleId', f->>'position'`;
  return rows.map(({ row }) => row);
}

/** Every decision of the line, by run group and number, the last one of an entry last. */
export async function listSignOffRows(db: Tx, eventId: string): Promise<Row[]> {
  const rows = await db.$queryRaw<{ row: Row }[]>`
    SELECT jsonb_build_object(${ABOUT}, 'signedAt', ${local('s.signed_at')}, 'signedBy', s.signed_name, 'decision', s.decision,
      'stickerNumber', s.sticker_number, 'note', s.note, 'validUntil', ${local('s.valid_until')},
      'conditions', (SELECT string_agg(c.text, '; ' ORDER BY c.id) FROM conditions c WHERE c.sign_off_id = s.id),
      'openConditions', (SELECT count(*) FROM conditions c WHERE c.sign_off_id = s.id AND c.done_at IS NULL)) AS row
    ${FROM}
    JOIN sign_offs s ON s.entry_id = e.id
    WHERE e.event_id = ${eventId}::uuid
    ${ORDER}, s.signed_at, s.id`;
  return rows.map(({ row }) => row);
}

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
