import type { Deps } from '../../../deps.ts';
import { daysBetween, epochMs, plainDateAt } from '../../../domain/calendar.ts';
import { GENERAL_CAUTION } from '../../../domain/cautions.ts';
import { parseAnswers, parseCellKey } from '../../../domain/declaration/declaration.ts';
import { alwaysLook } from '../../../domain/line/always-look.ts';
import { entryDates } from '../../../domain/log/entry-dates.ts';
import { countdown, type Ending } from '../../../domain/prepare/countdown.ts';
import { type LoggedPads, wearOutlooks } from '../../../domain/prepare/wear-outlook.ts';
import { addDays } from '../../../domain/calendar.ts';
import type { Finding } from '../../../domain/rules/model/finding.ts';
import type { Rule } from '../../../domain/rules/model/rule-set.ts';
import { findingsIn, languagesOf } from '../../../domain/rules/says/rule-words.ts';
import { languageOf } from '../../../http/frame/language.ts';
import { notFound } from '../../../http/frame/problem.ts';
import { judgeEntry } from '../../../records/judging/judge-entry.ts';
import { findJudgingContext, type JudgingContext } from '../../../records/judging/judging-context.ts';
import { getRules } from '../../../records/judging/rules.ts';
import { type CountdownRow, findCountdown } from './countdown-store.ts';
import type { CountdownView } from './schemas.ts';

/** Sessions of a day where no timetable says it. Common practice, no source. */
const SESSIONS_PER_DAY = 4;

/**
 * What is to be done for the car of an entry, from the answers that are saved now.
 *
 * @throws ProblemError `not-found`
 */
export async function readCountdown(
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
  const logged = loggedPads(row.pads);
  const { startsOn, endsOn, closesAt } = context.event;
  const { timeZone } = context.venue;
  const wear = { startsOn, findings, earlier: context.earlier, logged, ...sessionsOf(context, now) };
  const plan = {
    closesAt: closesAt.toISOString(),
    declared: row.facts.declared !== undefined,
    firstSessionAt: context.firstSessionAt.toISOString(),
    conditions: row.facts.conditions,
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
    const name = what.kind === 'session' ? what.name : what.kind === 'condition' ? what.text : undefined;
    return { what: what.kind, ...(name === undefined ? {} : { name }), at: startsAt };
  });
}

/** How many sessions a day has, and how many are still to come. */
function sessionsOf(
  { sessions, event }: JudgingContext,
  now: Date,
): { sessionsPerDay: number; sessionsToCome: number } {
  const days = daysBetween(event.startsOn, event.endsOn) + 1;
  if (sessions.length === 0) return { sessionsPerDay: SESSIONS_PER_DAY, sessionsToCome: days * SESSIONS_PER_DAY };
  const toCome = sessions.filter(({ endsAt }) => epochMs(endsAt) > now.getTime()).length;
  return { sessionsPerDay: sessions.length / days, sessionsToCome: Math.max(1, toCome) };
}

/** What was read of the pads, in order of the session it was read after: its number, else one after the other. */
function loggedPads(pads: CountdownRow['pads']): LoggedPads[] {
  const read = pads.map(({ session, cells }, index) => {
    const number = Number(session);
    const sessions = session !== null && Number.isInteger(number) && number > 0 ? number : index + 1;
    return { sessions, mm: { ...lowest(cells, 'front', 'F'), ...lowest(cells, 'rear', 'R') } };
  });
  return read.toSorted((a, b) => a.sessions - b.sessions);
}

function lowest(cells: Readonly<Record<string, unknown>>, axle: 'front' | 'rear', start: string): LoggedPads['mm'] {
  const own = Object.entries(cells).flatMap(([cell, value]) => {
    const { key, position = '' } = parseCellKey(cell);
    const isHere = key === 'pad.thickness' && (position === axle || position.startsWith(start));
    return isHere && typeof value === 'number' ? [value] : [];
  });
  return own.length === 0 ? {} : { [axle]: Math.min(...own) };
}

/** Until when labels, fluids and services are accepted: of each rule on a date its first end, as its margin in days says it. */
function endingsOf(findings: readonly Finding[], rules: readonly Rule[], { event }: JudgingContext): Ending[] {
  const tests = new Map(rules.map(({ id, test }) => [id, test]));
  const first = new Map<string, Ending>();
  for (const { ruleId, title, margin, counts, result, effect } of findings) {
    if (margin?.unit !== 'day' || effect === 'advise' || (result === 'not-met' && counts === 'no')) continue;
    const test = tests.get(ruleId);
    const atStart = test?.kind === 'age' && test.at === 'event-start';
    const on = addDays(atStart ? event.startsOn : event.endsOn, margin.value);
    const known = first.get(title);
    if (known === undefined || on < known.on) first.set(title, { title, on });
  }
  return [...first.values()];
}
