import { comparePlainDates, epochMs, type Instant, plainDateAt, startOfNextDay } from '../../domain/calendar.ts';
import type { CarFacts } from '../../domain/clearance/car-facts.ts';
import { type OpenCondition, standingBars } from '../../domain/clearance/clearance.ts';
import { type ConditionKind, dueOfKind, knownTimes } from '../../domain/log/condition-due.ts';
import { dailyRechecks } from '../../domain/log/daily-recheck.ts';
import { type RecheckTimes, TORQUE_RECHECK_TEXT, torqueRecheckTimes } from '../../domain/log/torque-recheck.ts';
import type { Judgement } from '../../domain/rules/model/finding.ts';
import { ownList, ownSwitch } from '../../domain/rules/model/own-parameters.ts';
import type { JudgingContext } from './judging-context.ts';
import { type JudgingRules, overridesOf, type RulesRef } from './rules.ts';

export type AskedCondition = Omit<OpenCondition, 'id'>;

/** A condition as the inspector names it. */
export interface GivenCondition {
  text: string;
  kind?: ConditionKind | undefined;
  /** `null`: deliberately none; absent: by its kind, and none without one */
  dueAt?: Instant | null | undefined;
}

type Sessions = Pick<JudgingContext, 'firstSessionAt' | 'sessions' | 'venue' | 'event'>;

/** What an acceptance is given with, and what judged it. */
export interface Accepting {
  /** the conditions that the inspector names */
  given: readonly GivenCondition[];
  judgement: Judgement;
  rules: JudgingRules;
  ref: Pick<RulesRef, 'resolvedHash' | 'parameters'>;
  context: Sessions;
  /** of its other entries too */
  car: CarFacts;
  entryId: string;
  now: Date;
}

/** All conditions of an acceptance: what the inspector, the concessions that carry it, and the rules ask for, each once. */
export function conditionsOfAcceptance(accepting: Accepting): AskedCondition[] {
  const { judgement, now, context } = accepting;
  const given = accepting.given.map((one) => timed(one, context, now));
  const conceded = new Set(standingBars(judgement.findings).flatMap(({ condition }) => condition ?? []));
  const recheck = torqueRecheck(accepting);
  const isGiven = given.some((one) => one.recheck !== undefined);
  const ofRules = recheck === undefined || isGiven ? [] : [recheck];
  const named = new Set(given.map(({ text }) => text));
  const asked = [...[...conceded].map((text) => ({ text })), ...ofRules, ...daily(accepting)];
  const ofInspector = recheck === undefined ? given : given.map((one) => noLaterThan(one, recheck));
  return [...ofInspector, ...asked.filter(({ text }) => !named.has(text))];
}

/** Its due time by its kind; a wheel torque that the inspector asks for can be settled by the log, like that of the rules. */
function timed({ text, kind, dueAt }: GivenCondition, context: Sessions, now: Date): AskedCondition {
  if (kind === 'torque') {
    const times = recheckTimes(context, now);
    const byTable = recheckOf(times);
    if (dueAt === undefined) return { text, ...byTable };
    const recheck = { of: 'torque', from: times.from.toISOString() } as const;
    return { text, ...(dueAt === null ? {} : { dueAt }), recheck };
  }
  if (kind === undefined || dueAt !== undefined) return { text, ...(dueAt == null ? {} : { dueAt }) };
  const times = timesAt(context, now);
  const due = dueOfKind(kind, times, context.sessions.length > 0);
  const at = due === undefined ? undefined : times[due];
  return at === undefined ? { text } : { text, dueAt: at };
}

function timesAt({ firstSessionAt, sessions, venue, event }: Sessions, now: Date) {
  const today = plainDateAt(now, venue.timeZone);
  const day = comparePlainDates(today, event.startsOn) < 0 ? event.startsOn : today;
  const endOfDay = new Date(startOfNextDay(day, venue.timeZone).getTime() - 60_000).toISOString();
  return knownTimes({ sessions, firstSessionAt: firstSessionAt.toISOString(), endOfDay, now: now.getTime() });
}

const recheckTimes = ({ firstSessionAt, sessions, venue, event }: Sessions, now: Date): RecheckTimes =>
  torqueRecheckTimes({ firstSessionAt, sessions, timeZone: venue.timeZone, endsOn: event.endsOn }, now);

/** A re-check whose times are those of the timetable. */
export const recheckOf = ({ from, dueAt }: RecheckTimes): Pick<AskedCondition, 'dueAt' | 'recheck'> => ({
  ...(dueAt === undefined ? {} : { dueAt: dueAt.toISOString() }),
  recheck: { of: 'torque', from: from.toISOString(), byTimetable: true },
});

/** Where the rules ask for the torque too, an inspector can only ask for it earlier. */
function noLaterThan(one: AskedCondition, { dueAt, recheck }: AskedCondition): AskedCondition {
  if (one.recheck === undefined || dueAt === undefined) return one;
  if (one.dueAt !== undefined && epochMs(one.dueAt) <= epochMs(dueAt)) return one;
  return { ...one, dueAt, recheck };
}

/** Wheel torque again after the first session, where the rules ask for it: once for the car, whichever entry asks first. */
function torqueRecheck({ rules, ref, context, car, entryId, now }: Accepting): AskedCondition | undefined {
  if (!ownSwitch(rules.compiled.ruleSet, overridesOf(ref), 'torqueRecheck')) return undefined;
  const others = car.conditions.filter((one) => one.entryId !== entryId);
  if (others.some(({ recheck }) => recheck?.of === 'torque')) return undefined;
  return { text: TORQUE_RECHECK_TEXT, ...recheckOf(recheckTimes(context, now)) };
}

/** What the group has shown again on each later day: once for the car, whichever entry asks first. */
function daily({ rules, ref, context, car, entryId, now }: Accepting): AskedCondition[] {
  const { firstSessionAt, sessions, venue, event } = context;
  const points = ownList(rules.compiled.ruleSet, overridesOf(ref), 'dailyRecheck');
  const days = { firstSessionAt, sessions, timeZone: venue.timeZone, startsOn: event.startsOn, endsOn: event.endsOn };
  const others = new Set(car.conditions.filter((one) => one.entryId !== entryId).map(({ text }) => text));
  return dailyRechecks(points, days, now).filter(({ text }) => !others.has(text));
}
