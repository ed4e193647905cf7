import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../../deps.ts';
import type { Actor } from '../../../domain/actor.ts';
import { inThread, URGENCY } from '../../../http/body/in-thread.ts';
import { eventParams, Id } from '../../../http/frame/common-schemas.ts';
import { notFound, ProblemError } from '../../../http/frame/problem.ts';
import { addRoute } from '../../../http/frame/route.ts';
import { COLUMNS, formatCell, READ_ONLY_COLUMNS, valueAt } from '../import/csv-columns.ts';
import { findFirstDay } from '../import/import-store.ts';
import { listAllEntries } from '../list-store.ts';
import { type Kind, KINDS, listFindingRows, listSignOffRows, type Row, TABLES, type Value } from './store.ts';
import { FORMATS, writeTableTask } from './write-table.task.ts';

const CSV = 'text/csv';
const WORKBOOK = 'application/vnd.openxmlformats-officedocument.spreadsheetml.sheet';

const params = z.strictObject({ eventId: Id, table: z.enum(KINDS).describe('What to take along') });

const query = z.strictObject({
  format: z.enum(FORMATS).default('csv').describe('`csv`: RFC 4180, UTF-8 with a byte order mark; `xlsx`: a workbook'),
  columns: z
    .string()
    .max(4000)
    .optional()
    .describe('Names of the columns, separated by commas, in their order; absent: the usual ones'),
});

const Exports = z
  .object({
    tables: z
      .array(
        z.object({
          kind: z.enum(KINDS).describe('What the rows are'),
          columns: z
            .array(
              z.object({
                name: z.string().describe('Name'),
                usual: z.boolean().describe('Written when nobody chooses'),
              }),
            )
            .describe('Every column, in the order of the file'),
        }),
      )
      .describe('Tables that can be taken along'),
  })
  .meta({ id: 'Exports' });

const describeTable = (kind: Kind) => {
  const { columns, usual } = TABLES[kind];
  return { kind, columns: columns.map((name) => ({ name, usual: usual.includes(name) })) };
};

function chosenColumns(kind: Kind, named: string | undefined): readonly string[] {
  const { columns, usual } = TABLES[kind];
  if (named === undefined) return usual;
  const chosen = [...new Set(named.split(',').map((name) => name.trim()))].filter((name) => name !== '');
  const unknown = chosen.filter((name) => !columns.includes(name));
  if (unknown.length === 0 && chosen.length > 0) return chosen;
  const detail =
    chosen.length === 0
      ? 'Name at least one column.'
      : `There is no column ${unknown.join(', ')}. There are: ${columns.join(', ')}.`;
  throw new ProblemError('invalid-request', `In the query: columns: ${detail}`, {
    errors: [{ pointer: '/columns', code: 'unknown-column', detail, in: 'query' }],
  });
}

async function entryRows({ db, clock }: Deps, eventId: string, columns: readonly string[]): Promise<Row[]> {
  const all = [...COLUMNS, ...READ_ONLY_COLUMNS].filter(({ name }) => columns.includes(name));
  const entries = await listAllEntries(db.prisma, eventId, clock.now());
  return entries.map(({ view }) =>
    Object.fromEntries(
      all.map((column): [string, Value] => {
        const value = valueAt(view, column);
        const isPlain = typeof value === 'number' || typeof value === 'boolean' || typeof value === 'string';
        // People have a form of their own; the guard against formulas is put on with that of all others.
        return [column.name, isPlain ? value : formatCell(column, view)];
      }),
    ),
  );
}

async function rowsOf(deps: Deps, kind: Kind, eventId: string, columns: readonly string[]): Promise<Row[]> {
  if (kind === 'entries') return entryRows(deps, eventId, columns);
  return kind === 'findings' ? listFindingRows(deps.db.prisma, eventId) : listSignOffRows(deps.db.prisma, eventId);
}

async function writeExport(
  deps: Deps,
  { tokenId }: Actor,
  { eventId, table: kind }: z.infer<typeof params>,
  { format, columns: named }: z.infer<typeof query>,
): Promise<{ bytes: Buffer; fileName: string }> {
  const columns = chosenColumns(kind, named);
  const firstDay = await findFirstDay(deps.db.prisma, eventId);
  if (firstDay === undefined) throw notFound('event');
  const rows = await rowsOf(deps, kind, eventId, columns);
  const cells = rows.map((row) => columns.map((name) => row[name] ?? null));
  const table = { format, name: kind, rows: [[...columns], ...cells] };
  const bytes = await inThread(deps.threads, writeTableTask, table, { caller: tokenId, urgency: URGENCY.preview });
  return { bytes: Buffer.from(bytes), fileName: `${kind}-${firstDay}.${format}` };
}

const DESCRIPTION = `Entries, what is not as it should be in their newest declarations, or the decisions of the line, by run group and
number, with the columns that are chosen. Times are those of the venue. An apostrophe stands before text that a spreadsheet could
take for a formula; numbers of cars are text. Importing entries in \`csv\` with all columns changes nothing.`;

/** Tables to take along. */
export async function exportRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  const common = { tag: 'Entries', access: ['organizer'], method: 'GET' } as const;
  addRoute(app, {
    ...common,
    path: '/events/:eventId/exports',
    operationId: 'listExports',
    summary: 'List the tables that can be taken along, with their columns',
    description: 'Each with its columns in the order in which they are written when none are chosen.',
    params: eventParams,
    success: {
      200: { description: 'The tables', schema: Exports, example: { tables: [describeTable('sign-offs')] } },
    },
    problems: ['not-found'],
    handle: async ({ params: { eventId } }) => {
      if ((await findFirstDay(deps.db.prisma, eventId)) === undefined) throw notFound('event');
      return { status: 200, body: { tables: KINDS.map(describeTable) } };
    },
  });
  addRoute(app, {
    ...common,
    path: '/events/:eventId/exports/:table',
    operationId: 'exportTable',
    summary: 'Download entries, findings or sign-offs as CSV or as a workbook',
    description: DESCRIPTION,
    params,
    query,
    success: {
      200: {
        description: 'The file',
        schema: z.string().describe('CSV, RFC 4180'),
        contentType: CSV,
        alternatives: { [WORKBOOK]: { schema: z.string().describe('Workbook, ECMA-376'), example: 'PK…' } },
        headers: { 'Content-Disposition': 'Name of the file' },
        example: 'carNumber,runGroup,entrantName,counts,title\r\n42,Novice,Ines Haldorsen,bar,Brake pad thickness\r\n',
      },
    },
    problems: ['not-found', 'invalid-request'],
    plainJson: true,
    handle: async ({ params: at, query: how, actor }) => {
      const { bytes, fileName } = await writeExport(deps, actor, at, how);
      const type = how.format === 'csv' ? `${CSV}; charset=utf-8; header=present` : WORKBOOK;
      return {
        status: 200,
        body: bytes,
        headers: { 'content-type': type, 'content-disposition': `attachment; filename="${fileName}"` },
      };
    },
  });
}
