import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../../deps.ts';
import type { Actor } from '../../../domain/actor.ts';
import { eventParams } from '../../../http/frame/common-schemas.ts';
import { notFound } from '../../../http/frame/problem.ts';
import { addRoute } from '../../../http/frame/route.ts';
import { inThread, URGENCY } from '../../../http/body/in-thread.ts';
import { importEntries, receiveTable } from '../import/import.ts';
import { answerImport } from '../import/csv-routes.ts';
import { mapRunGroups } from '../import/import-store.ts';
import {
  IMPORT_ORDERED_EXAMPLE,
  IMPORT_REPORT_EXAMPLE,
  ImportReport,
  ImportSummary,
  notAcceptable,
  toReport,
} from '../import/import-schemas.ts';
import { findNumberRules } from '../store.ts';
import { type ListOutput, readListTask } from './read-list.task.ts';
import {
  ImportList,
  LIST_BODY_BYTES,
  LIST_EXAMPLE,
  ListLook,
  LookAtList,
  LOOK_EXAMPLE,
  type Reading,
} from './schemas.ts';
import { readWords, rememberWords, type Words } from './words-store.ts';

interface Sent {
  eventId: string;
  file: string;
  reading: Reading;
}

/**
 * Reads a list in a thread.
 *
 * @throws ProblemError `not-found` (event), `import-not-acceptable`, those of threads
 */
async function read(deps: Deps, { tokenId }: Actor, sent: Sent, want: 'look' | 'table') {
  const db = deps.db.prisma;
  if ((await findNumberRules(db, sent.eventId)) === undefined) throw notFound('event');
  const words = await readWords(db);
  const eventGroups = [...(await mapRunGroups(db, sent.eventId)).keys()];
  const { file, reading } = sent;
  const input = { file, reading, ...words, eventGroups, want };
  const list = await inThread(deps.threads, readListTask, input, { caller: tokenId, urgency: URGENCY.check });
  if ('badRow' in list)
    throw notAcceptable(toReport([{ row: list.badRow, outcome: 'rejected', errors: list.faults }], true));
  return list;
}

const wasLook = (list: ListOutput): ListLook => {
  if ('look' in list) return list.look;
  throw new Error('a look was asked for');
};

const LOOK_DESCRIPTION = `Nothing is written. A file of text is read in UTF-8, UTF-16 or Windows-1252, its cells separated by commas,
semicolons, tabs or bars; of a workbook (.xlsx) one sheet. What was found is shown with where each column goes; send it back
with what is otherwise. Columns about birth, address, account and the like are left out unless told.`;

const IMPORT_DESCRIPTION = `Reads the file as \`lookAtList\` shows it, and enters and changes cars as \`importEntries\` does. A column that
nobody knows refuses the file until somebody says where it goes, or \`ignoreOthers\`. What was said of columns and classes is
remembered for the next file. A number that can be read in two ways (1.210) is refused, and so is text whose letters were lost.`;

/** Lists as other programs write them. */
export async function listFileRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  const common = {
    tag: 'Entries',
    access: ['organizer'],
    method: 'POST',
    params: eventParams,
    bodyLimitBytes: LIST_BODY_BYTES,
  } as const;
  addRoute(app, {
    ...common,
    path: '/events/:eventId/entries/lists/look',
    operationId: 'lookAtList',
    summary: 'Find out how a list of cars is to be read',
    description: LOOK_DESCRIPTION,
    body: LookAtList,
    bodyExample: { file: LIST_EXAMPLE.file },
    success: { 200: { description: 'What was found', schema: ListLook, example: LOOK_EXAMPLE } },
    problems: ['not-found', 'import-not-acceptable'],
    handle: async ({ params, body: { file, reading = {} }, actor }) => {
      const list = await read(deps, actor, { ...params, file, reading }, 'look');
      return { status: 200, body: wasLook(list) };
    },
  });
  addRoute(app, {
    ...common,
    path: '/events/:eventId/entries/lists',
    operationId: 'importList',
    summary: 'Enter and change cars from a list of another program',
    description: IMPORT_DESCRIPTION,
    body: ImportList,
    bodyExample: LIST_EXAMPLE,
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
    handle: async ({ params, body, actor, request }) => {
      const { file, reading = {}, partial = false, dryRun = false } = body;
      let words: Words = { columns: [], groups: [] };
      const outcome = await importEntries(deps, actor, {
        eventId: params.eventId,
        async read() {
          const list = await read(deps, actor, { ...params, file, reading }, 'table');
          if (!('table' in list)) throw new Error('rows were asked for');
          words = list.words;
          return receiveTable(list.table);
        },
        partial,
        dryRun,
        requestId: request.id,
      });
      if (!dryRun) await rememberWords(deps.db.prisma, words, deps.clock.now());
      return answerImport(outcome);
    },
  });
}
