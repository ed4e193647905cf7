import { z } from 'zod';
import { isTimeZone } from '../../domain/calendar.ts';
import { Id, line, text } from '../../http/frame/common-schemas.ts';
import { MOVED_CARS, MOVED_CARS_EXAMPLE } from '../../http/views/small-views.ts';

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
