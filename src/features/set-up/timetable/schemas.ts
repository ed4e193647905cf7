import { z } from 'zod';
import { Id, InstantOut, text } from '../../../http/frame/common-schemas.ts';
import { SESSIONS_EXAMPLE, SessionInput, SessionView } from '../../../http/views/session-view.ts';

export const TimetableInput = z
  .strictObject({
    sessions: z
      .array(SessionInput)
      .max(100)
      .describe('All sessions of the group, in any order; empty takes the timetable away, and the first session stays'),
    reason: text(300).optional().describe('Why, for the history of the event'),
  })
  .meta({ id: 'Timetable' });
export type TimetableInput = z.infer<typeof TimetableInput>;

export const TimetableView = z
  .object({
    runGroupId: Id,
    sessions: z.array(SessionView).describe('In order of time; empty: no timetable is known'),
    firstSessionAt: InstantOut.describe('When the group first goes on track'),
    timeZone: z.string().describe('Time zone of the venue, IANA'),
  })
  .meta({ id: 'TimetableView' });
export type TimetableView = z.infer<typeof TimetableView>;

export const TIMETABLE_EXAMPLE: TimetableView = {
  runGroupId: '019ab8f0-0000-7000-8000-0000000000b1',
  sessions: SESSIONS_EXAMPLE,
  firstSessionAt: '2026-06-13T07:20:00.000Z',
  timeZone: 'Europe/Berlin',
};
