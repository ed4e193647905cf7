import { stringify } from 'csv-stringify/sync';
import type { FastifyInstance } from 'fastify';
import { setImmediate as nextTurn } from 'node:timers/promises';
import { z } from 'zod';
import type { Deps } from '../../../deps.ts';
import { eventParams } from '../../../http/frame/common-schemas.ts';
import { notFound } from '../../../http/frame/problem.ts';
import { addRoute, type Answer } from '../../../http/frame/route.ts';
import { installTextBody } from '../../../http/body/json-body.ts';
import { COLUMNS, formatCell, READ_ONLY_COLUMNS } from './csv-columns.ts';
import { importEntries, MOST_AT_ONCE, readImport, readImports, readTableInThread, viewImport } from './import.ts';
import { findFirstDay } from './import-store.ts';
import { MAX_ROWS } from './csv-table.ts';
import {
  EXPORT_EXAMPLE,
  IMPORT_EXAMPLE,
  IMPORT_ORDERED_EXAMPLE,
  IMPORT_REPORT_EXAMPLE,
  IMPORT_SUMMARY_EXAMPLE,
  IMPORT_VIEW_EXAMPLE,
  ImportList,
  importParams,
  ImportQuery,
  ImportReport,
  ImportSummary,
  ImportView,
} from './import-schemas.ts';
import { KEPT_DAYS } from './import-task-store.ts';
import { listAllEntries } from '../list-store.ts';

/** Entries that are written before others have their turn. */
const ROWS_PER_TURN = 50;
const BYTE_ORDER_MARK = '\uFEFF';

/**
 * All entries of an event as a file (RFC 4180) that an import reads back without changing anything. The byte order mark
 * tells spreadsheets that it is UTF-8.
 *
 * @throws ProblemError `not-found` (event)
 */
async function exportEntries(deps: Deps, eventId: string): Promise<{ fileName: string; text: string }> {
  const firstDay = await findFirstDay(deps.db.prisma, eventId);
  if (firstDay === undefined) throw notFound('event');
  const entries = await listAllEntries(deps.db.prisma, eventId, deps.clock.now());
  const columns = [...COLUMNS, ...READ_ONLY_COLUMNS];
  let text = BYTE_ORDER_MARK + write([columns.map((column) => column.name)]);
  for (let from = 0; from < entries.length; from += ROWS_PER_TURN) {
    const part = entries.slice(from, from + ROWS_PER_TURN);
    text += write(part.map(({ view }) => columns.map((column) => formatCell(column, view))));
    await nextTurn();
  }
  return { fileName: `entries-${firstDay}.csv`, text };
}

// Line breaks of any kind and the other separator stand in quotes, whoever reads the file.
const write = (records: string[][]): string =>
  stringify(records, { record_delimiter: '\r\n', quoted_match: /[\r\n;]/ });

const CSV = 'text/csv';
const BODY_LIMIT_BYTES = 2 * 1024 * 1024;

const EXPORT_DESCRIPTION = `RFC 4180, UTF-8 with a byte order mark, one row per entry, by run group and number. Columns are
those that the import reads, and after them \`status\` and \`reason\`: what the gate says now. An apostrophe stands before
text that a spreadsheet could take for a formula (\`=\`, \`+\`, \`-\`, \`@\` at its start); the import takes it off again.
Importing an export changes nothing.`;

const IMPORT_DESCRIPTION = `Reads UTF-8 with or without a byte order mark, commas or semicolons (then a decimal comma may stand
in numbers), any line ends, at most ${MAX_ROWS} rows and 2 MiB.

The header must have \`carNumber\` and \`runGroup\` (its name); together they say which entry a row is about. A number is
exact text: \`07\` is not \`7\`. \`people\` is a list \`driver:Name; crew:Name|id\` (before a semicolon or a bar in a name stands
a backslash); the id is the organizer's own, as \`entrantPersonId\` is. Columns of the car are named after its record, such as \`vehicle.caliper.front\`. \`status\` and \`reason\` of
an export are not looked at; another column is an error.

A row about an entry that does not exist enters it. A row about an existing one changes its entrant, people and car by the
rules of \`updateEntry\`: a changed car voids a submitted declaration. An empty cell clears the value, a column that is left
out leaves it, and a row whose cells about the car are all empty says nothing about the car. Entries that the file does not
name stay. Another run group in a row means another entry: use \`updateEntry\` to move a car.

One number in two run groups is one shared car: the cells about the car must be equal in both rows, or all empty in one.

Every row is planned before the first is written; a dry run ends there and locks nothing. One bad row refuses the whole
file, and nothing is written; with \`partial=true\` the good rows are written. Up to ${MOST_AT_ONCE} rows are written all or
nothing before the answer (200). More, or with \`partial=true\`, are written after it (202), in parts, so that nobody at the
event waits: \`Location\` says what comes of each row, and a restart of the server loses none. The report names every bad
row, its columns and the reasons, and each number that would be two cars of the event. Repeating an import changes nothing
more, and finishes what broke off.`;

/** Entries as a spreadsheet: the whole list out, and back in. */
export async function entryCsvRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  await app.register(async (csv) => {
    installTextBody(csv, CSV);
    addExportRoute(csv, deps);
    addImportRoute(csv, deps);
  });
}

function addExportRoute(app: FastifyInstance, deps: Deps): void {
  addRoute(app, {
    method: 'GET',
    path: '/events/:eventId/entries/export',
    operationId: 'exportEntries',
    summary: 'Download the entries of an event as CSV',
    description: EXPORT_DESCRIPTION,
    tag: 'Entries',
    access: ['organizer'],
    params: eventParams,
    success: {
      200: {
        description: 'The file',
        schema: z.string().describe('CSV, RFC 4180'),
        contentType: CSV,
        headers: { 'Content-Disposition': 'Name of the file' },
        example: EXPORT_EXAMPLE,
      },
    },
    problems: ['not-found'],
    handle: async ({ params }) => {
      const { fileName, text } = await exportEntries(deps, params.eventId);
      return {
        status: 200,
        body: text,
        headers: {
          'content-type': `${CSV}; charset=utf-8; header=present`,
          'content-disposition': `attachment; filename="${fileName}"`,
        },
      };
    },
  });
}

function addImportRoute(app: FastifyInstance, deps: Deps): void {
  addRoute(app, {
    method: 'POST',
    path: '/events/:eventId/entries/import',
    operationId: 'importEntries',
    summary: 'Enter and change cars from a CSV file',
    description: IMPORT_DESCRIPTION,
    tag: 'Entries',
    access: ['organizer'],
    params: eventParams,
    query: ImportQuery,
    body: z.string().describe('CSV, RFC 4180'),
    bodyType: CSV,
    bodyLimitBytes: BODY_LIMIT_BYTES,
    bodyExample: IMPORT_EXAMPLE,
    success: {
      200: { description: 'What became of each row', schema: ImportReport, example: IMPORT_REPORT_EXAMPLE },
      202: {
        description: 'Taken; read it again to see how far it is',
        schema: ImportSummary,
        headers: { Location: 'The import' },
        example: IMPORT_ORDERED_EXAMPLE,
      },
    },
    problems: ['not-found', 'import-not-acceptable', 'state-moved-on'],
    handle: async ({ params, query, body, actor, request }) => {
      const outcome = await importEntries(deps, actor, {
        eventId: params.eventId,
        read: () => readTableInThread(deps, actor, body),
        partial: query.partial === 'true',
        dryRun: query.dryRun === 'true',
        requestId: request.id,
      });
      return answerImport(outcome);
    },
  });
}

/** What is answered to an import: its report, or where it can be read how far it is. */
export function answerImport(outcome: Awaited<ReturnType<typeof importEntries>>): Answer {
  if ('report' in outcome) return { status: 200, body: outcome.report };
  const view = viewImport(outcome.task, { done: 0, total: outcome.rows });
  return { status: 202, body: view, headers: { location: `/v1/imports/${view.importId}` } };
}

/** Imports that were taken and are written after the answer. Organizers only. */
export async function importRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  const common = { tag: 'Entries', access: ['organizer'], method: 'GET' } as const;
  addRoute(app, {
    ...common,
    path: '/events/:eventId/imports',
    operationId: 'listImports',
    summary: 'List the imports of an event that were taken as a whole',
    description: `How far each is; what came of its rows is read by its id. Kept for ${KEPT_DAYS} days.`,
    params: eventParams,
    success: {
      200: { description: 'Newest first', schema: ImportList, example: { imports: [IMPORT_SUMMARY_EXAMPLE] } },
    },
    problems: ['not-found'],
    handle: async ({ params }) => ({ status: 200, body: { imports: await readImports(deps, params.eventId) } }),
  });
  addRoute(app, {
    ...common,
    path: '/imports/:importId',
    operationId: 'getImport',
    summary: 'Read how far an import is and what came of each row',
    description: `Rows appear as they are decided. Kept for ${KEPT_DAYS} days; what a row says of people only until it is decided.`,
    params: importParams,
    success: { 200: { description: 'The import', schema: ImportView, example: IMPORT_VIEW_EXAMPLE } },
    problems: ['not-found'],
    // Up to 2,000 rows, written from checked values.
    plainJson: true,
    handle: async ({ params }) => ({ status: 200, body: await readImport(deps, params.importId) }),
  });
}
