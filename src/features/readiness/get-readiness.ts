import { countStatuses, isUndeclared, openConditions, standingHolds } from '../../domain/readiness.ts';
import type { Deps } from '../../deps.ts';
import { notFound } from '../../http/problem.ts';
import type { ReadinessView } from './schemas.ts';
import { findEventState, listReadyEntries } from './store.ts';
import { viewConcessions } from './view-concessions.ts';
import { carOf, type Known, standing } from './known.ts';
import { viewLine } from './view-line-forecast.ts';

const MOST_LISTED = 1000;

/**
 * How ready an event is: what the gate says of its entries, what the rules find most, who is missing, what stands in
 * the way, and how the line will fare.
 *
 * @throws ProblemError `not-found`
 */
export async function getReadiness(deps: Deps, eventId: string): Promise<ReadinessView> {
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
