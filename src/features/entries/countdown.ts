import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import { addDays, plainDateAt } from '../../domain/calendar.ts';
import { CATALOGUE } from '../../domain/catalogue/catalogue.ts';
import { countdown, type Ending, PACKED, STAGES, TASKS } from '../../domain/prepare/countdown.ts';
import type { Finding } from '../../domain/rules/model/finding.ts';
import type { Rule } from '../../domain/rules/model/rule-set.ts';
import { findJudgingContext, type JudgingContext } from '../../records/judging/judging-context.ts';
import type { Deps } from '../../deps.ts';
import { STAFF } from '../../domain/actor.ts';
import { GENERAL_CAUTION } from '../../domain/cautions.ts';
import { parseAnswers, parseCellKey } from '../../domain/declaration/declaration.ts';
import { alwaysLook } from '../../domain/line/line-judgement.ts';
import { conditionIn } from '../../domain/log/condition-words.ts';
import { type EntryDate, entryDates } from '../../domain/log/timetable.ts';
import { type LoggedParts, sessionsAhead, wearOutlooks } from '../../domain/prepare/wear-outlook.ts';
import { OPENINGS, type Part, PART_DAYS } from '../../domain/prepare/work-table.ts';
import { findingsIn, languagesOf } from '../../domain/rules/says/rule-words.ts';
import { entryParams, Id, InstantOut, PlainDateOut } from '../../http/frame/common-schemas.ts';
import { AcceptLanguage, LANGUAGE_DOCUMENTED, languageHeaders, languageOf } from '../../http/frame/headers.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { judgeEntry } from '../../records/judging/judge-entry.ts';
import { getRules } from '../../records/judging/rules.ts';
import { type CountdownRow, findCountdown } from './vehicle-store.ts';

/** Every item that asks for the day something was changed or serviced: its name says so. */
export const SERVICES: ReadonlySet<string> = new Set(
  CATALOGUE.map(({ key }) => key).filter((key) => /\.(changed|flushed|serviced)-on$/u.test(key)),
);

/** Until when something is accepted: a service that is due again, or a label that ends. */
export interface EndingOf extends Ending {
  of: 'service' | 'label';
}

const isAtStart = (test: Rule['test'] | undefined): boolean => test?.kind === 'age' && test.at === 'event-start';

/** Until when labels, fluids and services are accepted: of each rule on a date its first end, as its margin in days says it. */
export function endingsOf(
  findings: readonly Finding[],
  rules: readonly Rule[],
  { event }: Pick<JudgingContext, 'event'>,
): EndingOf[] {
  const tests = new Map(rules.map(({ id, test }) => [id, test]));
  const first = new Map<string, EndingOf>();
  for (const { ruleId, title, items, margin, counts, result, effect } of findings) {
    if (margin?.unit !== 'day' || effect === 'advise' || (result === 'not-met' && counts === 'no')) continue;
    const on = addDays(isAtStart(tests.get(ruleId)) ? event.startsOn : event.endsOn, margin.value);
    const of = items.some((key) => SERVICES.has(key)) ? 'service' : 'label';
    const known = first.get(title);
    if (known === undefined || on < known.on) first.set(title, { title, on, of });
  }
  return [...first.values()];
}

/**
 * What is to be done for the car of an entry, from the answers that are saved now.
 *
 * @throws ProblemError `not-found`
 */
async function readCountdown(
  deps: Deps,
  entryId: string,
  accepts: { 'accept-language'?: string | undefined },
): Promise<{ view: CountdownView; language: string }> {
  const db = deps.db.prisma;
  const context = await findJudgingContext(db, entryId);
  const row = await findCountdown(db, entryId);
  if (context === undefined || row === undefined) throw notFound('entry');
  const rules = await getRules(db, context);
  const { ruleSet } = rules.compiled;
  const language = languageOf(accepts, languagesOf(ruleSet));
  const now = deps.clock.now();
  const parsed = parseAnswers(row.answers);
  const answers = parsed.ok ? parsed.answers : new Map();
  const judged = judgeEntry(rules, context, { answers, stage: 'declaration', now });
  const findings = findingsIn(judged.findings, ruleSet, language);
  const logged = loggedParts(row.worn);
  const { startsOn, endsOn, closesAt } = context.event;
  const { timeZone } = context.venue;
  const { perDay, count } = sessionsAhead({ ...context, now });
  const driven = { sessionsPerDay: perDay, sessionsToCome: Math.max(1, count) };
  const wear = { startsOn, findings, earlier: context.earlier, logged, ...driven };
  const plan = {
    closesAt: closesAt.toISOString(),
    declared: row.facts.declared !== undefined,
    firstSessionAt: context.firstSessionAt.toISOString(),
    conditions: row.facts.conditions.map((one) => ({ ...one, text: conditionIn(one.text, language) })),
    ...(row.told === undefined ? {} : { told: row.told }),
  };
  const made = countdown({
    ...plan,
    today: plainDateAt(now, timeZone),
    startsOn,
    endsOn,
    findings,
    endings: endingsOf(findings, ruleSet.rules, context),
    outlooks: wearOutlooks(wear),
    logged,
    wheelTorqueNm: context.vehicle.wheelNutTorqueNm,
  });
  const looks = alwaysLook({ ruleSet, parameters: context.parameters }, context.vehicle);
  const view: CountdownView = {
    entryId,
    event: { name: row.event, startsOn, endsOn, timeZone },
    stages: made.stages.map((stage) => ({ ...stage, tasks: stage.tasks.map(copied) })),
    pack: made.pack.map(copied),
    looks: looks.map(({ title, texts }) => texts?.[language]?.title ?? title),
    dates: datesOf(context, plan),
    caution: GENERAL_CAUTION,
  };
  return { view, language };
}

/** A copy whose lists may be changed, as the types of answers have them. */
function copied<T extends { titles?: readonly string[] }>(of: T): Omit<T, 'titles'> & { titles?: string[] } {
  const { titles, ...rest } = of;
  return titles === undefined ? rest : { ...rest, titles: [...titles] };
}

function datesOf(
  context: JudgingContext,
  plan: Omit<Parameters<typeof entryDates>[0], 'sessions'>,
): CountdownView['dates'] {
  return entryDates({ ...plan, sessions: context.sessions }).map(({ what, startsAt }) => {
    const name = what.kind === 'session' ? what.name : what.kind === 'condition' ? what.text : laneOf(what);
    return { what: what.kind, ...(name === undefined ? {} : { name }), at: startsAt };
  });
}

const laneOf = (what: EntryDate['what']): string | undefined =>
  what.kind === 'line' && what.lane !== undefined ? String(what.lane) : undefined;

/** What was read of pads and tyres, in order of the session it was read after: its number, else one after the other. */
function loggedParts(worn: CountdownRow['worn']): LoggedParts[] {
  const read = worn.map(({ session, cells }, index) => {
    const number = Number(session);
    const sessions = session !== null && Number.isInteger(number) && number > 0 ? number : index + 1;
    return { sessions, pad: lowestOf(cells, PADS), tread: lowestOf(cells, TREADS) };
  });
  return read.toSorted((a, b) => a.sessions - b.sessions);
}

const PADS = ['pad.thickness'];
const TREADS = ['tyre.tread-lowest', 'tyre.tread'];

const lowestOf = (cells: Readonly<Record<string, unknown>>, keys: readonly string[]) => ({
  ...lowestAt(cells, keys, 'front', 'F'),
  ...lowestAt(cells, keys, 'rear', 'R'),
});

function lowestAt(
  cells: Readonly<Record<string, unknown>>,
  keys: readonly string[],
  axle: 'front' | 'rear',
  start: string,
): Partial<Record<'front' | 'rear', number>> {
  const own = Object.entries(cells).flatMap(([cell, value]) => {
    const { key, position = '' } = parseCellKey(cell);
    const isHere = keys.includes(key) && (position === axle || position.startsWith(start));
    return isHere && typeof value === 'number' ? [value] : [];
  });
  return own.length === 0 ? {} : { [axle]: Math.min(...own) };
}

/** What is to be done for a car from two weeks before an event to after it. */
export async function countdownRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'GET',
    path: '/entries/:entryId/countdown',
    operationId: 'getCountdown',
    summary: 'What is to be done for the car of an entry, and by when',
    description:
      'From what is saved of the declaration now, the log, and what the line asked for: what to order, what to put right in which order, ' +
      'what to do the night before and in the morning, what to watch between sessions and what is due before the next event; what to pack; ' +
      'what the line looks at on every car; the dates. Minutes and days of waiting are common practice, no source; a forecast of wear ' +
      'comes with the chance it holds with. It decides nothing.',
    tag: 'Entries',
    access: [...STAFF, 'entrant'],
    params: entryParams,
    headers: AcceptLanguage,
    success: {
      200: {
        description: 'The countdown',
        schema: CountdownView,
        headers: LANGUAGE_DOCUMENTED,
        example: COUNTDOWN_EXAMPLE,
      },
    },
    problems: ['not-found'],
    handle: async ({ params: { entryId }, headers }) => {
      const { view, language } = await readCountdown(deps, entryId, headers);
      return { status: 200, body: view, headers: languageHeaders(language) };
    },
  });
}

// the keys of the table are the parts
const PARTS = Object.keys(PART_DAYS) as [Part, ...Part[]];
const Axle = z.enum(['front', 'rear']).describe('Axle');
const Titles = z.array(z.string()).describe('What it is about, in the language that is asked for');

const TaskView = z.object({
  kind: z.enum(TASKS).describe('What is to be done; the other fields say of what'),
  titles: Titles.optional(),
  lane: z.int().optional().describe('`to-line`: where it is told to be, where several are open'),
  part: z.enum(PARTS).optional().describe('What to order or book'),
  opening: z.enum(OPENINGS).optional().describe('What is opened or taken off for it'),
  axle: Axle.optional(),
  wear: z.enum(['pad', 'rotor', 'tread']).optional().describe('What wears'),
  minutes: z.int().optional().describe('About how long it takes; common practice'),
  count: z
    .number()
    .optional()
    .describe(
      '`answer`: open questions; `order-for-wear`, `watch-wear`: sessions it lasts with a chance of 95 %; `wore`: sessions driven',
    ),
  value: z
    .number()
    .optional()
    .describe('`set-wrench`: N·m; `watch-wear`: least that must be left, mm; `wore`: what is left, mm'),
  before: z.number().optional().describe('`wore`: what there was, mm'),
  by: PlainDateOut.optional().describe('By this day; `due`, `ends`: the last day on which it is accepted'),
  at: InstantOut.optional().describe('By this instant'),
  isTold: z.literal(true).optional().describe('`to-line`: `at` was told, and is not the first session'),
  isLate: z.literal(true).optional().describe('The day to order has passed: ask for a faster way'),
});

const CountdownView = z
  .object({
    entryId: Id,
    event: z
      .object({
        name: z.string().describe('Its name'),
        startsOn: PlainDateOut,
        endsOn: PlainDateOut,
        timeZone: z.string().describe('Of the venue, an IANA name: show times in it'),
      })
      .describe('The event it counts down to'),
    stages: z
      .array(
        z.object({
          stage: z.enum(STAGES).describe('From ordering parts to what is due before the next event'),
          from: PlainDateOut.describe('First day'),
          to: PlainDateOut.describe('Last day'),
          when: z.enum(['past', 'now', 'later']).describe('Where today is, at the venue'),
          tasks: z.array(TaskView).describe('In the order to do them'),
        }),
      )
      .describe('In order of time; a stage without a task is there too'),
    pack: z
      .array(
        z.object({
          what: z.enum(PACKED).describe('What goes along'),
          titles: Titles.optional(),
          axle: Axle.optional(),
          value: z.number().optional().describe('Torque, N·m'),
        }),
      )
      .describe('What goes along: what every car needs, and what this one may need'),
    looks: z
      .array(z.string())
      .describe('What the line looks at on every car of the group, in the language that is asked for'),
    dates: z
      .array(
        z.object({
          what: z
            .enum(['declare-by', 'line', 'session', 'first-session', 'condition'])
            .describe('As in the calendar file of the entry'),
          name: z.string().optional().describe('Of a session, what the condition asks for, or the lane at the line'),
          at: InstantOut.describe('When it is, or begins'),
        }),
      )
      .describe('In order of time'),
    caution: z.string().describe('To be shown with it'),
  })
  .meta({ id: 'CountdownView' });
type CountdownView = z.infer<typeof CountdownView>;

const COUNTDOWN_EXAMPLE: CountdownView = {
  entryId: '019ab8f0-0000-7000-8000-0000000000e1',
  event: { name: 'Summer track weekend', startsOn: '2026-06-13', endsOn: '2026-06-14', timeZone: 'Europe/Berlin' },
  stages: [
    {
      stage: 'two-weeks',
      from: '2026-05-30',
      to: '2026-06-05',
      when: 'now',
      tasks: [{ kind: 'order', part: 'pads', titles: ['Brake pad thickness for this group'], by: '2026-06-07' }],
    },
  ],
  pack: [
    { what: 'torque-wrench', value: 110 },
    { what: 'spare-pads', axle: 'front' },
  ],
  looks: ['Brake pedal: press hard for ten seconds'],
  dates: [{ what: 'first-session', at: '2026-06-13T07:20:00.000Z' }],
  caution: GENERAL_CAUTION,
};
