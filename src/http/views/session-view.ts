import { z } from 'zod';
import type { Session } from '../../domain/log/timetable.ts';
import { InstantOut, line, PlannedInstant } from '../frame/common-schemas.ts';

/** A session of a run group as it is set. */
export const SessionInput = z.strictObject({
  name: line(40).describe('As people call it; unique in the group, for example "Sat 1"'),
  startsAt: PlannedInstant.describe('When it begins, RFC 3339; on a day of the event at the venue'),
  endsAt: PlannedInstant.describe('When it is over'),
});

/** A session of a run group as it is shown. */
export const SessionView = z
  .object({
    name: z.string().describe('As people call it; unique in the group'),
    startsAt: InstantOut.describe('When it begins'),
    endsAt: InstantOut.describe('When it is over'),
  })
  .meta({ id: 'Session' });

export const SESSIONS_EXAMPLE: Session[] = [
  { name: 'Sat 1', startsAt: '2026-06-13T07:20:00.000Z', endsAt: '2026-06-13T07:40:00.000Z' },
  { name: 'Sat 2', startsAt: '2026-06-13T08:20:00.000Z', endsAt: '2026-06-13T08:40:00.000Z' },
];

/** Sessions in UTC, in order of time. */
export const toSessions = (given: readonly z.infer<typeof SessionInput>[]): Session[] =>
  given.map(({ name, startsAt, endsAt }) => ({
    name,
    startsAt: new Date(startsAt).toISOString(),
    endsAt: new Date(endsAt).toISOString(),
  }));
