import type { FastifyInstance } from 'fastify';
import ical, { ICalAlarmType, ICalCalendarMethod } from 'ical-generator';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { STAFF } from '../../domain/actor.ts';
import { dateOf } from '../../domain/calendar.ts';
import { GENERAL_CAUTION } from '../../domain/cautions.ts';
import { type EntryDate, entryDates } from '../../domain/log/timetable.ts';
import { entryParams } from '../../http/frame/common-schemas.ts';
import { AcceptLanguage, LANGUAGE_DOCUMENTED, languageHeaders, languageOf } from '../../http/frame/headers.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { findJudgingContext } from '../../records/judging/judging-context.ts';
import { findPlanned } from './vehicle-store.ts';

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
      'RFC 5545, times in UTC: by when to declare, as long as nothing is declared; when the car is told to be at the line; each session of the run group, or the first ' +
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
      const { facts, event, told } = planned;
      const dates = entryDates({
        closesAt: context.event.closesAt.toISOString(),
        declared: facts.declared !== undefined,
        firstSessionAt: context.firstSessionAt.toISOString(),
        sessions: context.sessions,
        conditions: facts.conditions,
        told,
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

type CalendarLanguage = 'en' | 'de';

interface Of {
  entryId: string;
  carNumber: string;
  runGroup: string;
  event: string;
  dates: readonly EntryDate[];
  /** when it is written */
  now: Date;
}

const WORDS = {
  en: {
    title: (car: string, event: string) => `Car ${car}: ${event}`,
    'declare-by': (car: string) => `Last minute to declare car ${car}`,
    'first-session': (car: string, group: string) => `First session, ${group}, car ${car}`,
    line: (car: string, lane: number | undefined) =>
      `Tech line, car ${car}${lane === undefined ? '' : `, lane ${lane}`}`,
    session: (car: string, group: string, name: string) => `Session ${name}, ${group}, car ${car}`,
    condition: (car: string, text: string) => `Car ${car}, at the latest: ${text}`,
    declare: 'After this the form is closed and the car gets no place on the line. Do not wait for the evening before.',
    come: 'With the helmet and what you drive in, bonnet unlocked, boot empty. If you are late, come all the same: you fit in. Your page has the time that counts now.',
    drive: 'Be at the tech line in good time before it: without a sign-off the gate does not let the car out.',
    due: 'Past this time the gate holds the car until it is done and written down.',
  },
  de: {
    title: (car: string, event: string) => `Auto ${car}: ${event}`,
    'declare-by': (car: string) => `Letzte Minute, um Auto ${car} zu erklären`,
    'first-session': (car: string, group: string) => `Erste Ausfahrt, ${group}, Auto ${car}`,
    line: (car: string, lane: number | undefined) =>
      `Abnahme, Auto ${car}${lane === undefined ? '' : `, Spur ${lane}`}`,
    session: (car: string, group: string, name: string) => `Ausfahrt ${name}, ${group}, Auto ${car}`,
    condition: (car: string, text: string) => `Auto ${car}, spätestens: ${text}`,
    declare:
      'Danach ist das Formular geschlossen und das Auto bekommt keinen Platz an der Abnahme. Warte nicht bis zum Vorabend.',
    come: 'Mit Helm und Fahrkleidung, Haube entriegelt, Kofferraum leer. Wenn du spät bist, komm trotzdem: du wirst eingefügt. Auf deiner Seite steht die Zeit, die jetzt gilt.',
    drive: 'Sei vorher rechtzeitig an der Abnahme: ohne Freigabe lässt die Einfahrt das Auto nicht hinaus.',
    due: 'Danach hält die Einfahrt das Auto an, bis es erledigt und eingetragen ist.',
  },
} as const;

const MINUTE_S = 60;
/** Before it, in seconds. Common practice, no source. */
const ALARMS: Readonly<Record<EntryDate['what']['kind'], readonly number[]>> = {
  'declare-by': [3 * 24 * 60 * MINUTE_S, 24 * 60 * MINUTE_S],
  line: [12 * 60 * MINUTE_S, 30 * MINUTE_S],
  session: [30 * MINUTE_S],
  'first-session': [12 * 60 * MINUTE_S, 90 * MINUTE_S],
  condition: [20 * MINUTE_S],
};

function textsOf({ what }: EntryDate, { carNumber, runGroup }: Of, language: CalendarLanguage) {
  const words = WORDS[language];
  switch (what.kind) {
    case 'declare-by':
      return { summary: words['declare-by'](carNumber), description: words.declare };
    case 'line':
      return { summary: words.line(carNumber, what.lane), description: words.come };
    case 'first-session':
      return { summary: words['first-session'](carNumber, runGroup), description: words.drive };
    case 'session':
      return { summary: words.session(carNumber, runGroup, what.name), description: words.drive };
    case 'condition':
      return { summary: words.condition(carNumber, what.text), description: words.due };
  }
}

/**
 * The dates of an entry as a calendar file (RFC 5545), times in UTC, which each device shows on its own clock. An id of a date stays when it
 * moves, so that a file loaded again moves it and doubles nothing.
 */
function writeCalendar(of: Of, language: CalendarLanguage): string {
  const calendar = ical({
    name: WORDS[language].title(of.carNumber, of.event),
    prodId: { company: 'Gridworthy', product: 'entry dates', language: language.toUpperCase() },
    method: ICalCalendarMethod.PUBLISH,
  });
  for (const date of of.dates) {
    const { summary, description } = textsOf(date, of, language);
    const start = dateOf(date.startsAt);
    const event = calendar.createEvent({
      id: `${encodeURIComponent(date.key)}.${of.entryId}@gridworthy`,
      start,
      end: date.endsAt === undefined ? null : dateOf(date.endsAt),
      stamp: of.now,
      summary,
      description: `${of.event}\n${description}\n${GENERAL_CAUTION}`,
    });
    for (const trigger of ALARMS[date.what.kind]) {
      event.createAlarm({ type: ICalAlarmType.display, trigger, description: summary });
    }
  }
  return calendar.toString();
}
