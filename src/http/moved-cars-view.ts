import { z } from 'zod';
import { Id, InstantOut } from './common-schemas.ts';

const Cars = (what: string) => z.int().describe(what);

/** What a change of an event's days would do to the cars that are signed off: the fields of an answer. */
export const MOVED_CARS = {
  signedOff: Cars('Accepted now'),
  follows: Cars('Accepted for the whole event: would be so for the new days'),
  keeps: Cars('Accepted until an earlier end, which stays'),
  ends: Cars('Accepted until an earlier end, which would be before the new days: would not be admitted any more'),
  lineAgain: Cars('Would have to go through the line again: the event moved too far'),
  cars: z
    .array(
      z.object({
        entryId: Id,
        carNumber: z.string().describe('Exact text'),
        outcome: z.enum(['follows', 'keeps', 'ends', 'line-again']).describe('What would become of it'),
        before: InstantOut.nullable().describe('Until when the acceptance is valid now'),
        validUntil: InstantOut.nullable().describe('Until when it would be; null where it would not admit'),
      }),
    )
    .describe('Every accepted car, by car number'),
};

export const MOVED_CARS_EXAMPLE = {
  signedOff: 1,
  follows: 1,
  keeps: 0,
  ends: 0,
  lineAgain: 0,
  cars: [
    {
      entryId: '019ab8f0-0000-7000-8000-0000000000e7',
      carNumber: '42',
      outcome: 'follows' as const,
      before: '2026-06-14T22:00:00.000Z',
      validUntil: '2026-06-15T22:00:00.000Z',
    },
  ],
};
