import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../deps.ts';
import { type Actor, STAFF } from '../../domain/actor.ts';
import { type ConcessionState, concessionState, MANY_CONCESSIONS } from '../../domain/clearance/concession.ts';
import {
  countStatuses,
  forecastLine,
  isExpectedAtLine,
  isUndeclared,
  openConditions,
  serviceTime,
  standingHolds,
} from '../../domain/line/readiness.ts';
import { lineOptions, whomToCall } from '../../domain/line/what-helps.ts';
import type { Rule } from '../../domain/rules/model/rule-set.ts';
import { eventParams } from '../../http/frame/common-schemas.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import type { Tx } from '../../platform/database/db.ts';
import { getRules } from '../../records/judging/rules.ts';
import { READINESS_EXAMPLE, ReadinessView } from './readiness-schemas.ts';
import {
  type EventState,
  findEventState,
  type GroupState,
  listContacts,
  listReadyEntries,
  type ReadyEntry,
} from './store.ts';

const MS_PER_MINUTE = 60_000;
const TENTHS = 10;

const ASSUMPTIONS: readonly string[] = [
  'The line stays open without a break and nobody stands idle.',
  'Cars that must still come do so in time; the line takes groups in the order of their first sessions.',
  'Every car takes the mean time.',
];

function assumptionsFor(from: 'measured' | 'assumption', minutes: number): string[] {
  const assumed = `Too few inspections were measured yet: ${minutes} minutes a car are assumed (common practice, no source).`;
  return from === 'measured' ? [...ASSUMPTIONS] : [...ASSUMPTIONS, assumed];
}

/** The forecast with instants for minutes, as callers read it. */
function viewLine(event: EventState, entries: readonly ReadyEntry[], now: Date): ReadinessView['line'] {
  const service = serviceTime(event.serviceMinutes);
  const after = (minutes: number | undefined): string | null =>
    minutes === undefined ? null : new Date(now.getTime() + minutes * MS_PER_MINUTE).toISOString();
  const groups = event.groups.map(({ runGroupId, firstSessionAt }) => {
    const cars = entries.filter((entry) => entry.runGroupId === runGroupId);
    return {
      runGroupId,
      minutesToFirstSession: (Date.parse(firstSessionAt) - now.getTime()) / MS_PER_MINUTE,
      waiting: cars.filter((entry) => entry.onLine).length,
      expected: cars.filter((entry) => isExpectedAtLine(entry, now)).length,
    };
  });
  const forecast = forecastLine(groups, event.inspectors, service.minutes);
  const work = groups.map(({ waiting, expected, ...group }) => ({ ...group, cars: waiting + expected }));
  const nameOf = (id: string) => event.groups.find(({ runGroupId }) => runGroupId === id)?.name ?? '';
  return {
    waiting: forecast.waiting,
    expected: forecast.expected,
    inspectors: event.inspectors,
    service: { ...service, minutes: Math.round(service.minutes * TENTHS) / TENTHS },
    waitingDoneAt: after(forecast.waitingDoneInMinutes),
    allDoneAt: after(forecast.allDoneInMinutes),
    inspectorsNeeded: forecast.inspectorsNeeded ?? null,
    groups: forecast.groups.flatMap((group) => {
      const known = event.groups.find(({ runGroupId }) => runGroupId === group.runGroupId);
      if (known === undefined) return [];
      return [
        {
          runGroupId: known.runGroupId,
          name: known.name,
          firstSessionAt: known.firstSessionAt,
          waiting: group.waiting,
          expected: group.expected,
          doneAt: after(group.doneInMinutes),
          inTime: group.inTime ?? null,
          inspectorsNeeded: group.inspectorsNeeded ?? null,
          inspectorsForWaits: group.inspectorsForWaits ?? null,
        },
      ];
    }),
    options: lineOptions(work, event.inspectors, service.minutes).map((option) => ({
      inspectors: option.inspectors,
      allDoneAt: new Date(now.getTime() + option.allDoneInMinutes * MS_PER_MINUTE).toISOString(),
      lateGroups: option.lateGroups.map(nameOf),
      startBy: after(option.startInMinutes),
    })),
    assumptions: assumptionsFor(service.from, service.minutes),
  };
}

const MOST_LISTED = 1000;
const MOST_CALLS = 50;

/** Whom to call; telephone and address are the organizer's to see, names the staff's that works with entries. */
async function viewCalls(db: Tx, { event, entries, now }: Known, role: Actor['role']): Promise<ReadinessView['calls']> {
  const sessions = new Map(event.groups.map(({ runGroupId, firstSessionAt }) => [runGroupId, firstSessionAt]));
  const calls = whomToCall(entries, sessions, now);
  if (role === 'marshal') return { total: calls.length, cars: [] };
  const first = calls.slice(0, MOST_CALLS);
  const contacts = await listContacts(
    db,
    first.map(({ entry }) => entry.entryId),
  );
  const mayReach = role === 'organizer';
  return {
    total: calls.length,
    cars: first.map(({ entry, why }) => {
      const { name = '', phone, email } = contacts.find(({ entryId }) => entryId === entry.entryId) ?? {};
      return {
        ...carOf(event, entry),
        why,
        firstSessionAt: sessions.get(entry.runGroupId) ?? event.closesAt.toISOString(),
        name,
        ...(mayReach && phone != null && { phone }),
        ...(mayReach && email != null && { email }),
      };
    }),
  };
}

/**
 * How ready an event is: what the gate says of its entries, what the rules find most, who is missing, what stands in
 * the way, and how the line will fare.
 *
 * @throws ProblemError `not-found`
 */
async function getReadiness(deps: Deps, eventId: string, role: Actor['role']): Promise<ReadinessView> {
  const db = deps.db.prisma;
  const now = deps.clock.now();
  const [event, entries] = await Promise.all([findEventState(db, eventId), listReadyEntries(db, eventId)]);
  if (event === undefined) throw notFound('event');
  const known: Known = { event, entries, now };
  return {
    eventId,
    asOf: now.toISOString(),
    entries: viewCounts(known),
    findings: event.findings,
    watched: event.watched,
    undeclared: viewUndeclared(known),
    holds: viewHolds(known),
    conditions: viewConditions(known),
    concessions: await viewConcessions(db, known),
    calls: await viewCalls(db, known, role),
    line: viewLine(event, entries, now),
  };
}

function viewCounts({ event, entries, now }: Known): ReadinessView['entries'] {
  const ids = event.groups.map((group) => group.runGroupId);
  const { total, statuses, groups } = countStatuses(entries, ids, now);
  return {
    total,
    statuses,
    groups: event.groups.flatMap(({ runGroupId, name }) => {
      const counted = groups.get(runGroupId);
      return counted === undefined ? [] : [{ runGroupId, name, ...counted }];
    }),
  };
}

function viewUndeclared({ event, entries, now }: Known): ReadinessView['undeclared'] {
  const undeclared = entries.filter(({ facts }) => isUndeclared(facts));
  return {
    total: undeclared.length,
    closesAt: event.closesAt.toISOString(),
    open: now >= event.opensAt && now < event.closesAt,
    cars: undeclared.slice(0, MOST_LISTED).map((entry) => {
      const reason = entry.facts.reinspect;
      return { ...carOf(event, entry), ...(reason !== undefined && { reason }) };
    }),
  };
}

function viewHolds({ event, entries }: Known): ReadinessView['holds'] {
  return standingHolds(standing(entries))
    .slice(0, MOST_LISTED)
    .map(({ entry, holdId, reason }) => ({ holdId, ...carOf(event, entry), reason }));
}

function viewConditions({ event, entries, now }: Known): ReadinessView['conditions'] {
  const byId = new Map(entries.map((entry) => [entry.entryId, entry]));
  return openConditions(entries, now)
    .slice(0, MOST_LISTED)
    .flatMap(({ entry: { entryId }, id: conditionId, ...condition }) => {
      const entry = byId.get(entryId);
      return entry === undefined ? [] : [{ conditionId, ...carOf(event, entry), ...condition }];
    });
}

type Judge = GroupState & { rules: readonly Rule[] };

function countIn(entry: ReadyEntry, judge: Judge | undefined, state: ConcessionState, now: Date): number {
  if (judge === undefined) return 0;
  return entry.concessions.filter((one) => concessionState(one, judge, now) === state).length;
}

/** Exceptions as they stand under the rules that judge each entry's run group now. */
async function viewConcessions(db: Tx, { event, entries, now }: Known): Promise<ReadinessView['concessions']> {
  const cars = standing(entries).filter((entry) => entry.concessions.length > 0);
  const judges = new Map<string, Judge>();
  for (const group of event.groups) {
    if (!cars.some((entry) => entry.runGroupId === group.runGroupId)) continue;
    const { compiled } = await getRules(db, group);
    judges.set(group.runGroupId, { ...group, rules: compiled.ruleSet.rules });
  }
  const count = (entry: ReadyEntry, state: ConcessionState) => countIn(entry, judges.get(entry.runGroupId), state, now);
  const inForce = cars.map((entry) => ({ ...carOf(event, entry), inForce: count(entry, 'in-force') }));
  return {
    inForce: inForce.reduce((sum, car) => sum + car.inForce, 0),
    awaitingApproval: cars.reduce((sum, entry) => sum + count(entry, 'awaiting-approval'), 0),
    manyConcessions: inForce.filter((car) => car.inForce >= MANY_CONCESSIONS),
  };
}

/** How ready an event is. */
export async function readinessRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'GET',
    path: '/events/:eventId/readiness',
    operationId: 'getEventReadiness',
    summary: 'Read how ready an event is: counts, common findings, who is missing, forecast of the line',
    description:
      'Counts by status and run group at this moment, rules on watch, and a forecast of how long the line will be.',
    tag: 'Line',
    access: STAFF,
    params: eventParams,
    success: { 200: { description: 'As of now', schema: ReadinessView, example: READINESS_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params, actor }) => ({
      status: 200,
      body: await getReadiness(deps, params.eventId, actor.role),
    }),
  });
}

/** What readiness is told from. */
interface Known {
  event: EventState;
  entries: readonly ReadyEntry[];
  now: Date;
}

/** An entry as every list names it. */
function carOf({ groups }: EventState, { entryId, carNumber, runGroupId }: ReadyEntry) {
  const runGroup = groups.find((group) => group.runGroupId === runGroupId)?.name ?? '';
  return { entryId, carNumber, runGroupId, runGroup };
}

/** Entries that were not withdrawn. */
function standing(entries: readonly ReadyEntry[]): ReadyEntry[] {
  return entries.filter(({ facts }) => !facts.withdrawn);
}
