import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../../deps.ts';
import { STAFF } from '../../../domain/actor.ts';
import { entryDates } from '../../../domain/log/entry-dates.ts';
import { entryParams } from '../../../http/frame/common-schemas.ts';
import { AcceptLanguage, LANGUAGE_DOCUMENTED, languageHeaders, languageOf } from '../../../http/frame/language.ts';
import { notFound } from '../../../http/frame/problem.ts';
import { addRoute } from '../../../http/frame/route.ts';
import { findJudgingContext } from '../../../records/judging/judging-context.ts';
import { findPlanned } from './calendar-store.ts';
import { writeCalendar } from './write-calendar.ts';

const ICS = 'text/calendar';
const EXAMPLE = [
  'BEGIN:VCALENDAR',
  'VERSION:2.0',
  'PRODID:-//Gridworthy//entry dates//EN',
  'METHOD:PUBLISH',
  'BEGIN:VEVENT',
  'UID:first-session.019ab8f0-0000-7000-8000-0000000000e1@gridworthy',
  'DTSTAMP:20260606T081200Z',
  'DTSTART:20260613T072000Z',
  'SUMMARY:First session\\, Novice\\, car 42',
  'END:VEVENT',
  'END:VCALENDAR',
  '',
].join('\r\n');

/** The dates of an entry for the calendar of a telephone. */
export async function calendarRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'GET',
    path: '/entries/:entryId/calendar',
    operationId: 'getCalendar',
    summary: 'The dates of an entry as a calendar file',
    description:
      'RFC 5545, times in UTC: by when to declare, as long as nothing is declared; each session of the run group, or the first ' +
      'one where no timetable is known; by when open conditions must be done. Loaded again it moves what has moved. The texts are in ' +
      'the language that is asked for, English or German.',
    tag: 'Entries',
    access: [...STAFF, 'entrant'],
    params: entryParams,
    headers: AcceptLanguage,
    success: {
      200: {
        description: 'The calendar',
        schema: z.string().describe('iCalendar, RFC 5545'),
        contentType: ICS,
        headers: LANGUAGE_DOCUMENTED,
        example: EXAMPLE,
      },
    },
    problems: ['not-found'],
    handle: async ({ params: { entryId }, headers }) => {
      const db = deps.db.prisma;
      const context = await findJudgingContext(db, entryId);
      const planned = await findPlanned(db, entryId);
      if (context === undefined || planned === undefined) throw notFound('entry');
      const language = languageOf(headers) === 'de' ? 'de' : 'en';
      const { facts, event } = planned;
      const dates = entryDates({
        closesAt: context.event.closesAt.toISOString(),
        declared: facts.declared !== undefined,
        firstSessionAt: context.firstSessionAt.toISOString(),
        sessions: context.sessions,
        conditions: facts.conditions,
      });
      const { carNumber, runGroup } = context;
      const of = { entryId, carNumber, runGroup, event, dates, now: deps.clock.now() };
      const type = {
        'content-type': `${ICS}; charset=utf-8`,
        'content-disposition': `inline; filename="car-${carNumber}.ics"`,
      };
      return { status: 200, body: writeCalendar(of, language), headers: { ...type, ...languageHeaders(language) } };
    },
  });
}
