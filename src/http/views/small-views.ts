import { z } from 'zod';
import type { Session } from '../../domain/log/timetable.ts';
import { LOOK_ALIKE_KINDS } from '../../domain/look-alikes.ts';
import { type Dimension, dimensionOf } from '../../domain/quantity.ts';
import type { Says } from '../../domain/rules/says/says.ts';
import type { SaysValue } from '../../domain/rules/says/sentence.ts';
import { READS_NAMES } from '../../domain/line/instruments.ts';
import { Id, InstantOut, line, PlannedInstant } from '../frame/common-schemas.ts';

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

/** Why a point was chosen beyond what must be looked at. */
export const ChosenView = z
  .object({
    item: z.string().describe('Catalogue key'),
    why: z.enum(['worth', 'learn']).describe('`learn`: by chance, because little is known of it'),
    chance: z.number().describe('To be wrong on this car, by what was known then, 0 to 1'),
    looked: z.int().describe('Such cars on which it was looked at, at events that are over'),
    wrong: z.int().describe('Of them those on which it was wrong'),
    seconds: z.number().describe('What a look is expected to take'),
  })
  .describe('Of `chosen`: kept with the claim. It need not be checked');

/** When a car is told to be at the line. */
export const ToldView = z
  .object({ at: InstantOut, lane: z.int().optional().describe('Where several are open, 1 is the first') })
  .describe('When it is told to be at the line: the page, the message, the calendar and the inspector say the same')
  .meta({ id: 'ToldTime' });

/** The worn part that ends first, before the event does. */
export const LastSafeView = z
  .object({
    wear: z.enum(['pad', 'rotor', 'tread']).describe('What wears'),
    axle: z.enum(['front', 'rear']).describe('Where'),
    sessions: z.int().describe('Sessions from then on that it lasts with a chance of 95 %; 0: perhaps not the next'),
    session: z
      .object({ name: z.string().describe('As in the timetable'), startsAt: InstantOut })
      .optional()
      .describe('The last of them, where a timetable is known'),
    nowMm: z.number().describe('What is left by the last reading, mm'),
    limitMm: z.number().describe('Less must never be left, mm'),
  })
  .describe(
    'The worn part that ends first, before the event does: a forecast, it decides nothing. Absent: none is known',
  )
  .meta({ id: 'LastSafe' });

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

const Value = z.union([
  z.object({
    value: z.number().describe('The limit, in the unit it is judged in'),
    unit: z.string().describe('That unit'),
    decimals: z.number().optional().describe('Decimals it is judged with'),
    inside: z.enum(['above', 'below']).optional().describe('Which side is inside: round to it, never away from it'),
    difference: z.literal(true).optional().describe('A difference: 5 °C are 9 °F'),
  }),
  z.object({ day: z.string().describe('A plain date') }),
  z.object({ text: z.string().describe('Words, in the language of the answer') }),
]);

/** A limit as one sentence. */
export const SaysView = z
  .object({
    text: z.string().describe('True before an answer exists; numbers in the unit they are judged in'),
    template: z
      .string()
      .optional()
      .describe('The same with places `{name}`, to be filled in other units; `{name.number}`: the number without unit'),
    values: z.record(z.string(), Value).optional().describe('What stands in the places of the template'),
    open: z.literal(true).optional().describe('A value is not known yet: it says what to do first'),
  })
  .meta({ id: 'Says' });
export type SaysView = z.infer<typeof SaysView>;

/** What readers have a choice of units for. */
const CHOSEN: readonly Dimension[] = ['length', 'temperature', 'pressure', 'torque'];

const isChosen = (value: SaysValue): boolean => 'unit' in value && CHOSEN.includes(dimensionOf(value.unit));

/** The sentence as callers read it; the template only where its numbers may be wanted in another unit. */
export function viewSays({ text, template, values, isOpen }: Says): SaysView {
  const isConvertible = Object.values(values).some(isChosen);
  return {
    text,
    ...(isConvertible && { template, values: { ...values } }),
    ...(isOpen && { open: true as const }),
  };
}

/** An instrument of the organizer's own with how good it is, as it is set and as it is read. */
export const NamedInstrumentView = z
  .strictObject({
    name: line(60).describe('What stands on it; one of its name for each thing that is read'),
    reads: z.enum(READS_NAMES).describe('What it reads'),
    uncertainty: z.number().positive().max(1000).describe('Expanded uncertainty U (k = 2), in `unit`'),
    unit: z.string().max(20).describe('A unit of what it reads: `mm`, `°C`, `N·m`'),
    source: line(200).optional().describe('Where U is from: a certificate and its date'),
  })
  .meta({ id: 'NamedInstrument' });

export const Instruments = z
  .array(NamedInstrumentView)
  .max(60)
  .describe('Instruments of the line by name, with how good they are; a value without one is judged by the usual');
