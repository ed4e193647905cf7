import { isExpectedAtLine } from '../../domain/readiness.ts';
import { forecastLine, serviceTime } from '../../domain/readiness-line.ts';
import type { ReadinessView } from './schemas.ts';
import type { EventState, ReadyEntry } from './store.ts';

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
export function viewLine(event: EventState, entries: readonly ReadyEntry[], now: Date): ReadinessView['line'] {
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
    assumptions: assumptionsFor(service.from, service.minutes),
  };
}
