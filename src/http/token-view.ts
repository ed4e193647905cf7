import { z } from 'zod';
import { Id, InstantOut } from './common-schemas.ts';

const MOST_EVENTS = 50;

/** The events that a token of the staff is for, as it is asked for. */
export const EventIds = z
  .array(Id)
  .min(1)
  .max(MOST_EVENTS)
  .refine((ids) => new Set(ids).size === ids.length, 'must name each event once')
  .describe(`The events it is for, 1 to ${MOST_EVENTS}. It works only there, until the end of the day after each`);

/** The events that a token is for, as they stand. */
export const TokenEvents = z
  .array(
    z.object({
      eventId: Id,
      name: z.string().describe('Name of the event'),
      endsAt: InstantOut.describe('From this instant on it no longer works there'),
    }),
  )
  .describe('The events it is for; it works nowhere else');
export type TokenEvents = z.infer<typeof TokenEvents>;
