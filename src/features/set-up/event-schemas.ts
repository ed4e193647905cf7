import { z } from 'zod';
import { AsOf, ChangedSince } from '../../http/frame/changed-since.ts';
import {
  PlainDateIn,
  Id,
  InstantOut,
  line,
  Page,
  PlainDateOut,
  PlannedDay,
  PlannedInstant,
  text,
} from '../../http/frame/common-schemas.ts';
import { Instruments, MOVED_CARS, MOVED_CARS_EXAMPLE } from '../../http/views/small-views.ts';
import { isTimeZone } from '../../domain/calendar.ts';

/** What a change of an event's days would do, before anybody does it. */
export const EventPreview = z
  .object({
    preview: z.string().describe('Names this change of the days, from what to what; send it with the change'),
    sameDays: z.boolean().describe('The days stay as they are, and so does every clearance'),
    ...MOVED_CARS,
  })
  .meta({ id: 'EventPreview' });
export type EventPreview = z.infer<typeof EventPreview>;

export const EVENT_PREVIEW_EXAMPLE: EventPreview = {
  preview: '5d0b2a7c9e1f40d38b6a5c4e3f2d1b0a9c8e7f6d5b4a39281706f5e4d3c2b1a0',
  sameDays: false,
  ...MOVED_CARS_EXAMPLE,
};

const fields = {
  name: line(120).describe('Name of the event'),
  venueId: Id.describe('Where it takes place; its time zone decides what a day is'),
  startsOn: PlannedDay.describe('First day, YYYY-MM-DD at the venue'),
  endsOn: PlannedDay.describe('Last day, YYYY-MM-DD at the venue; an event has at most 31 days'),
  declarationsOpenAt: PlannedInstant.describe('Entrants may submit from this instant on, RFC 3339'),
  declarationsCloseAt: PlannedInstant.describe('Entrants may submit before this instant, RFC 3339'),
};

/** At most ten years. */
const RetentionDays = z
  .int()
  .min(0)
  .max(3650)
  .describe('Whole days after the last event day for which personal data is kept; 0: it is erased the day after');

const LookAlikes = z
  .enum(['warn', 'refuse'])
  .describe('Whether a number that can be taken for another one of the event is entered with a warning, or refused');
const ZeroTwins = z
  .enum(['refuse', 'allow'])
  .describe('Whether numbers that differ only by leading zeros, such as 7 and 07, may stand beside each other');

export const EventInput = z
  .strictObject({
    ...fields,
    retentionDays: RetentionDays.default(365),
    lookAlikes: LookAlikes.default('warn'),
    zeroTwins: ZeroTwins.default('refuse'),
    instruments: Instruments.default([]),
  })
  .meta({ id: 'Event' });
export type EventInput = z.infer<typeof EventInput>;

export const EventChanges = z
  .strictObject({
    ...fields,
    retentionDays: RetentionDays,
    lookAlikes: LookAlikes,
    zeroTwins: ZeroTwins,
    instruments: Instruments,
    reason: text(300).describe('Why, for the history; needed when the days or the zone change and cars are signed off'),
    preview: z.string().max(80).describe('`preview` that `POST …/preview` answered; needed in the same case'),
  })
  .partial()
  .meta({ id: 'EventChanges' });
export type EventChanges = z.infer<typeof EventChanges>;

const Cancelled = z
  .object({ at: InstantOut, by: z.string().describe('Who called it off'), reason: z.string().describe('Why') })
  .describe('Set once the event was called off: the gate admits nobody from then on');

export const EventView = z
  .object({
    eventId: Id,
    name: z.string().describe('Name of the event'),
    venueId: Id.describe('Where it takes place'),
    timeZone: z.string().describe('IANA time zone of the venue'),
    startsOn: PlainDateOut.describe('First day at the venue'),
    endsOn: PlainDateOut.describe('Last day at the venue'),
    declarationsOpenAt: InstantOut.describe('Entrants may submit from this instant on'),
    declarationsCloseAt: InstantOut.describe('Entrants may submit before this instant'),
    declarations: z.enum(['not-open', 'open', 'closed']).describe('Whether entrants may submit now'),
    retentionDays: z.int().describe('Days after the last event day for which personal data is kept'),
    lookAlikes: LookAlikes,
    zeroTwins: ZeroTwins,
    instruments: Instruments,
    cancelled: Cancelled.optional(),
    createdAt: InstantOut,
  })
  .meta({ id: 'EventView' });
export type EventView = z.infer<typeof EventView>;

export const EventList = z
  .object({
    events: z.array(EventView).describe('The latest first day comes first'),
    next: z.string().optional().describe('`cursor` of the next page; absent on the last one'),
    asOf: AsOf,
  })
  .meta({ id: 'EventList' });

export const eventQuery = z.strictObject({
  from: PlainDateIn.optional().describe('Only events that are on this day or later'),
  to: PlainDateIn.optional().describe('Only events that are on this day or before'),
  venueId: Id.optional().describe('Only events at this venue'),
  changedSince: ChangedSince,
  ...Page,
});
export type EventFilters = Omit<z.infer<typeof eventQuery>, 'limit' | 'cursor'>;

export const EVENT_EXAMPLE = {
  name: 'Alder Ridge club weekend',
  venueId: '019ab8f0-0000-7000-8000-0000000000a1',
  startsOn: '2026-06-13',
  endsOn: '2026-06-14',
  declarationsOpenAt: '2026-06-01T06:00:00.000Z',
  declarationsCloseAt: '2026-06-13T05:30:00.000Z',
  retentionDays: 365,
  lookAlikes: 'warn',
  zeroTwins: 'refuse',
  instruments: [
    { name: 'Depth gauge 3', reads: 'tread', uncertainty: 0.1, unit: 'mm', source: 'Certificate 41, March 2026' },
  ],
} satisfies EventInput;

const speed = (max: number) => z.number().min(0).max(max);

export const BrakingZone = z
  .strictObject({
    name: line(80).optional().describe('For example a corner number'),
    fromKmh: speed(500).describe('Speed at the start of braking, km/h'),
    toKmh: speed(500).describe('Speed at the end of braking, km/h'),
  })
  .refine((zone) => zone.fromKmh > zone.toKmh, { message: 'fromKmh must be above toKmh', path: ['fromKmh'] });

export const VenueInput = z
  .strictObject({
    name: line(120).describe('Name of the circuit'),
    timeZone: z
      .string()
      .max(60)
      .refine(isTimeZone, 'must be an IANA time zone, for example Europe/Berlin')
      .describe('IANA time zone; event days are days in this zone'),
    lapLengthM: z.number().positive().max(100_000).optional().describe('Length of a lap, m'),
    brakingZones: z.array(BrakingZone).max(60).default([]).describe('In order of a lap'),
    topSpeedKmh: z.number().positive().max(500).optional().describe('Highest speed reached, km/h'),
    soundLimit: z
      .strictObject({
        levelDb: z.number().min(40).max(160).describe('Limit, dB(A)'),
        distanceM: z.number().positive().max(200).describe('Distance the limit is measured at, m'),
      })
      .optional()
      .describe('Sound limit of the venue'),
    designAirTemperatureC: z.number().min(-40).max(60).optional().describe('Air temperature to plan for, °C'),
  })
  .meta({ id: 'Venue' });
export type VenueInput = z.infer<typeof VenueInput>;

export const VenueReplacement = VenueInput.extend({
  reason: text(300)
    .optional()
    .describe('Why, for the history of the events; needed when the zone moves days for which cars are signed off'),
  preview: z.string().max(80).optional().describe('`preview` that `POST …/preview` answered; needed in the same case'),
}).meta({ id: 'VenueReplacement' });
export type VenueReplacement = z.infer<typeof VenueReplacement>;

/** What another zone of a venue would do, before anybody changes it. */
export const VenuePreview = z
  .object({
    preview: z.string().describe('Names this change of the zone; send it with the change'),
    sameZone: z.boolean().describe('The zone stays as it is, and so does every clearance'),
    events: z
      .array(
        z.object({
          eventId: Id,
          name: z.string().describe('Name of the event'),
          sameDays: z.boolean().describe('Its days stay the same instants'),
          ...MOVED_CARS,
        }),
      )
      .describe('The events of the venue that are not over'),
  })
  .meta({ id: 'VenuePreview' });
export type VenuePreview = z.infer<typeof VenuePreview>;

export const VenueView = z
  .object({
    venueId: Id,
    name: z.string().describe('Name of the circuit'),
    timeZone: z.string().describe('IANA time zone; event days are days in this zone'),
    lapLengthM: z.number().optional().describe('Length of a lap, m'),
    brakingZones: z
      .array(
        z.object({
          name: z.string().optional().describe('For example a corner number'),
          fromKmh: z.number().describe('Speed at the start of braking, km/h'),
          toKmh: z.number().describe('Speed at the end of braking, km/h'),
        }),
      )
      .describe('In order of a lap'),
    topSpeedKmh: z.number().optional().describe('Highest speed reached, km/h'),
    soundLimit: z
      .object({
        levelDb: z.number().describe('Limit, dB(A)'),
        distanceM: z.number().describe('Distance the limit is measured at, m'),
      })
      .optional()
      .describe('Sound limit of the venue'),
    designAirTemperatureC: z.number().optional().describe('Air temperature to plan for, °C'),
  })
  .meta({ id: 'VenueView' });
export type VenueView = z.infer<typeof VenueView>;

export const venueParams = z.strictObject({ venueId: Id });

export const VENUE_EXAMPLE = {
  name: 'Alder Ridge Circuit',
  timeZone: 'Europe/Berlin',
  lapLengthM: 3420,
  brakingZones: [{ name: 'Mill hairpin', fromKmh: 212, toKmh: 74 }],
  topSpeedKmh: 224,
  soundLimit: { levelDb: 95, distanceM: 20 },
  designAirTemperatureC: 28,
};

export const VENUE_PREVIEW_EXAMPLE: VenuePreview = {
  preview: '5d0b2a7c9e1f40d38b6a5c4e3f2d1b0a9c8e7f6d5b4a39281706f5e4d3c2b1a0',
  sameZone: false,
  events: [
    {
      eventId: '019ab8f0-0000-7000-8000-0000000000e1',
      name: 'Alder Ridge club weekend',
      sameDays: false,
      ...MOVED_CARS_EXAMPLE,
    },
  ],
};
