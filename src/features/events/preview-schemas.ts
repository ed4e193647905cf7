import { z } from 'zod';
import { Id, InstantOut } from '../../http/common-schemas.ts';

const Cars = (what: string) => z.int().describe(what);

/** What a change of an event's days would do, before anybody does it. */
export const EventPreview = z
  .object({
    preview: z.string().describe('Names this change of the days, from what to what; send it with the change'),
    sameDays: z.boolean().describe('The days stay as they are, and so does every clearance'),
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
  })
  .meta({ id: 'EventPreview' });
export type EventPreview = z.infer<typeof EventPreview>;

export const EVENT_PREVIEW_EXAMPLE: EventPreview = {
  preview: '5d0b2a7c9e1f40d38b6a5c4e3f2d1b0a9c8e7f6d5b4a39281706f5e4d3c2b1a0',
  sameDays: false,
  signedOff: 1,
  follows: 1,
  keeps: 0,
  ends: 0,
  lineAgain: 0,
  cars: [
    {
      entryId: '019ab8f0-0000-7000-8000-0000000000e7',
      carNumber: '42',
      outcome: 'follows',
      before: '2026-06-14T22:00:00.000Z',
      validUntil: '2026-06-15T22:00:00.000Z',
    },
  ],
};
