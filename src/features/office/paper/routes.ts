import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../../deps.ts';
import type { Actor } from '../../../domain/actor.ts';
import { cautionIn } from '../../../domain/cautions.ts';
import { parseAnswers } from '../../../domain/declaration/declaration.ts';
import { titleIn } from '../../../domain/rules/says/says.ts';
import { inThread, THREAD_PROBLEMS, URGENCY } from '../../../http/body/in-thread.ts';
import { entryParams, Id } from '../../../http/frame/common-schemas.ts';
import { AcceptLanguage, LANGUAGE_DOCUMENTED, languageHeaders, languageOf } from '../../../http/frame/headers.ts';
import { notFound } from '../../../http/frame/problem.ts';
import { addRoute, type Answer } from '../../../http/frame/route.ts';
import type { Tx } from '../../../platform/database/db.ts';
import { askedOfEntry, judgeEntry, sayLimitsOf } from '../../../records/judging/judge-entry.ts';
import { findJudgingContext } from '../../../records/judging/judging-context.ts';
import { getRules } from '../../../records/judging/rules.ts';
import {
  carText,
  dayBlocks,
  entryBlocks,
  gateBlocks,
  lineBlocks,
  rescueBlocks,
  type TitleOf,
  type Writing,
} from './event-sheets.ts';
import { questionBlocks } from './inspection-sheet.ts';
import {
  type Block,
  EVENT_SHEETS,
  type EventSheet,
  type Paper,
  PAPERS,
  Sheet,
  SHEET_EXAMPLE,
  sayIn,
  timesAt,
} from './sheet.ts';
import {
  type DayOfSheet,
  type EventOfSheet,
  findEntrantName,
  findEventOfSheet,
  findSaidAnswers,
  listEntriesOfSheet,
  listLineOfSheet,
  readDay,
} from './store.ts';
import { writePdfTask } from './write-pdf.task.ts';

const PDF = 'application/pdf';

const shape = {
  format: z.enum(['json', 'pdf']).default('json').describe('`pdf`: ready to print, with its font'),
  paper: z.enum(PAPERS).default('a4').describe('Of a PDF'),
};
const EventQuery = z.strictObject(shape);
const EntryQuery = z.strictObject({
  ...shape,
  answers: z.enum(['with', 'without']).default('with').describe('`without`: to be filled in by hand'),
});
const sheetParams = z.strictObject({ eventId: Id, sheet: z.enum(EVENT_SHEETS).describe('Which one') });

interface Made {
  deps: Deps;
  language: string;
  writing: Writing;
  event: EventOfSheet;
}

/** What every sheet has around its blocks. */
function around(
  { language, writing: { say, times, now }, event }: Made,
  { sheet, title, cautions }: { sheet: string; title: string; cautions: readonly string[] },
  blocks: Block[],
): Sheet {
  const { name, startsOn, endsOn, timeZone } = event;
  return {
    sheet,
    language,
    title,
    about: `${name}, ${startsOn === endsOn ? startsOn : `${startsOn} – ${endsOn}`}`,
    made: say('made', { time: times.at(now), zone: timeZone }),
    madeAt: now.toISOString(),
    pageOf: say('page', { page: '{page}', pages: '{pages}' }),
    cautions: [...cautions, cautionIn('general', language)],
    blocks,
  };
}

/** @throws ProblemError `not-found` */
async function begin(deps: Deps, eventId: string, language: string): Promise<Made> {
  const event = await findEventOfSheet(deps.db.prisma, eventId);
  if (event === undefined) throw notFound('event');
  const writing = { say: sayIn(language), times: timesAt(language, event.timeZone), now: deps.clock.now() };
  return { deps, language, writing, event };
}

/** The titles of rules that exceptions name, as they were when the exception was granted. */
async function titlesOf(db: Tx, exceptions: DayOfSheet['exceptions'], language: string): Promise<TitleOf> {
  const keyOf = (one: DayOfSheet['exceptions'][number]) => `${one.ruleSetId} ${one.ruleSetVersion} ${one.ruleId}`;
  const titles = new Map<string, string>();
  for (const one of exceptions) {
    const { ruleSetId, ruleSetVersion, ruleId } = one;
    if (titles.has(keyOf(one))) continue;
    const { ruleSet } = (await getRules(db, { ruleSetId, ruleSetVersion, resolvedHash: null })).compiled;
    const rule = ruleSet.rules.find(({ id }) => id === ruleId);
    titles.set(keyOf(one), rule === undefined ? ruleId : titleIn(ruleSet, rule, language));
  }
  return (one) => titles.get(keyOf(one)) ?? one.ruleId;
}

async function eventBlocks(sheet: EventSheet, { deps, language, writing, event }: Made): Promise<Block[]> {
  const db = deps.db.prisma;
  if (sheet === 'line-list') return lineBlocks(await listLineOfSheet(db, event.eventId), writing);
  const entries = await listEntriesOfSheet(db, event.eventId);
  if (sheet === 'gate-list') return gateBlocks(entries, writing);
  if (sheet === 'entries') return entryBlocks(entries, writing);
  if (sheet === 'rescue') return rescueBlocks(entries, writing);
  const day = await readDay(db, event.eventId);
  return dayBlocks(entries, day, writing, await titlesOf(db, day.exceptions, language));
}

function cautionsOf(sheet: EventSheet, { language, writing: { say } }: Made): string[] {
  if (sheet === 'line-list') return [say('line.caution')];
  if (sheet === 'gate-list') return [say('gate.caution')];
  return sheet === 'rescue' ? [cautionIn('high-voltage', language), say('rescue.caution')] : [];
}

async function makeEventSheet(deps: Deps, eventId: string, sheet: EventSheet, language: string): Promise<Sheet> {
  const made = await begin(deps, eventId, language);
  const title = made.writing.say(`title.${sheet}`);
  return around(made, { sheet, title, cautions: cautionsOf(sheet, made) }, await eventBlocks(sheet, made));
}

/**
 * What an entry is asked, with its answers or to be filled in by hand.
 *
 * @throws ProblemError `not-found`
 */
async function makeInspectionSheet(deps: Deps, entryId: string, filled: boolean, language: string): Promise<Sheet> {
  const db = deps.db.prisma;
  const context = await findJudgingContext(db, entryId);
  if (context === undefined) throw notFound('entry');
  const made = await begin(deps, context.event.eventId, language);
  const { say, times, now } = made.writing;
  const said = filled ? await findSaidAnswers(db, entryId) : undefined;
  const parsed = parseAnswers(said?.answers ?? {});
  const answers = parsed.ok ? parsed.answers : new Map();
  const rules = await getRules(db, context);
  const input = { answers, stage: 'declaration', now } as const;
  const { findings } = judgeEntry(rules, context, input);
  const says = sayLimitsOf(rules, context, { ...input, language, findings });
  const asked = askedOfEntry(rules, context, { answers, now });
  const { submitted } = said ?? {};
  const standing =
    submitted === undefined
      ? say('inspection.draft')
      : say('inspection.submitted', { by: submitted.by, revision: submitted.revision, time: times.at(submitted.at) });
  const about: Block = {
    heading: say('inspection.about'),
    lines: [
      [context.carNumber, carText(context.vehicle), context.runGroup, await findEntrantName(db, entryId)].join(' · '),
      said === undefined ? say('inspection.empty') : standing,
    ],
    columns: [],
    rows: [],
  };
  const signed = { lines: [say('inspection.driver'), '', say('inspection.sign'), ''], columns: [], rows: [] };
  const questions = questionBlocks(
    { asked, findings, says, answers, filled: said !== undefined, language },
    made.writing,
  );
  const title = say('title.inspection', { number: context.carNumber });
  return around(made, { sheet: 'inspection', title, cautions: [] }, [about, ...questions, signed]);
}

/** A sheet in the form that was asked for. @throws ProblemError of `THREAD_PROBLEMS` */
async function answerSheet(
  deps: Deps,
  { tokenId }: Actor,
  sheet: Sheet,
  { format, paper }: { format: 'json' | 'pdf'; paper: Paper },
): Promise<Answer> {
  const headers = languageHeaders(sheet.language);
  if (format === 'json') return { status: 200, body: sheet, headers };
  const asked = { caller: tokenId, urgency: URGENCY.preview };
  const bytes = await inThread(deps.threads, writePdfTask, { sheet, paper }, asked);
  const name = `${sheet.sheet}-${sheet.madeAt.slice(0, 10)}.pdf`;
  const file = { 'content-type': PDF, 'content-disposition': `attachment; filename="${name}"` };
  return { status: 200, body: Buffer.from(bytes), headers: { ...headers, ...file } };
}

/** Sheets to print, for race office, line, gate and rescue. */
export async function paperRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  const common = {
    tag: 'Sheets',
    access: ['organizer', 'chief'],
    method: 'GET',
    headers: AcceptLanguage,
    success: {
      200: {
        description: 'The sheet',
        schema: Sheet,
        alternatives: { [PDF]: { schema: z.string().describe('PDF, ISO 32000'), example: '%PDF-1.3 …' } },
        headers: LANGUAGE_DOCUMENTED,
        example: SHEET_EXAMPLE,
      },
    },
    problems: ['not-found', 'invalid-request', ...THREAD_PROBLEMS],
    plainJson: true,
  } as const;
  addRoute(app, {
    ...common,
    path: '/events/:eventId/sheets/:sheet',
    operationId: 'getEventSheet',
    summary: 'A sheet of an event to print, as JSON or PDF',
    description:
      'The line in its order, what the gate says of every car at this moment, the entries, the cars that rescuers must treat otherwise, or what the day came to with the head of the sealed history.',
    params: sheetParams,
    query: EventQuery,
    handle: async ({ params: { eventId, sheet }, query, headers, actor }) =>
      answerSheet(deps, actor, await makeEventSheet(deps, eventId, sheet, languageOf(headers)), query),
  });
  addRoute(app, {
    ...common,
    path: '/entries/:entryId/sheet',
    operationId: 'getInspectionSheet',
    summary: 'The inspection sheet of an entry to print, as JSON or PDF',
    description: 'Only what this car is asked by its rules, with what they ask and what was declared.',
    params: entryParams,
    query: EntryQuery,
    handle: async ({ params: { entryId }, query, headers, actor }) => {
      const sheet = await makeInspectionSheet(deps, entryId, query.answers === 'with', languageOf(headers));
      return answerSheet(deps, actor, sheet, query);
    },
  });
}
