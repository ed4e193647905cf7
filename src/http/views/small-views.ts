import { z } from 'zod';
import { LOOK_ALIKE_KINDS } from '../../domain/look-alikes.ts';
import { Id, InstantOut } from '../frame/common-schemas.ts';

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

export const LookAlikeView = z
  .object({
    carNumber: z.string().describe('Number of the other car, exact text'),
    vehicle: z.string().optional().describe('Description of the other car'),
    colour: z.string().optional().describe('Its colour, as a marshal would say it'),
    kind: z
      .enum(LOOK_ALIKE_KINDS)
      .describe(
        '`zeros`: 7 and 07; `case`: 7a and 7A; `characters`: 6 and 9 (16 and 91 too), O and 0, I, l and 1, B and 8, S and 5; `swapped`: 12 and 21',
      ),
  })
  .meta({ id: 'LookAlike' });

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

/** A photo where it is mentioned beside something else; the picture is at `/photos/{photoId}`. */
export const PhotoRef = z.object({
  photoId: Id.describe('The picture is at `/v1/photos/{photoId}`'),
  item: z.string().describe('Catalogue key'),
  position: z.string().optional().describe('Where on the car'),
});
export type PhotoRef = z.infer<typeof PhotoRef>;

export const PHOTO_REF_EXAMPLE: PhotoRef = {
  photoId: '019ab8f0-0000-7000-8000-000000000151',
  item: 'pad.thickness',
  position: 'FL.in',
};
