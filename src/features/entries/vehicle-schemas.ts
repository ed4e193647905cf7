import { z } from 'zod';
import { Id, InstantOut, PlainDateOut } from '../../http/frame/common-schemas.ts';

export const vehicleParams = z.strictObject({ vehicleId: Id });

const ValueView = z.object({
  item: z.string().describe('Catalogue key'),
  label: z.string().describe('Its question'),
  position: z.string().optional().describe('Where on the car'),
  field: z.string().optional().describe('Part of an answer that has parts'),
  part: z.string().optional().describe('Name of that part'),
  value: z.union([z.number(), z.string(), z.boolean()]).describe("In the item's unit"),
  unit: z.string().optional().describe('Unit of a number'),
  by: z
    .enum(['entrant', 'inspector'])
    .describe('Who gave it; what was measured at the line stands for what was declared'),
});

const Outing = z.object({
  session: z.string().describe('Its number or name'),
  at: InstantOut,
  laps: z.int().optional().describe('How many were driven'),
  bestLapSeconds: z.number().optional().describe('The quickest of them, s'),
  values: z.array(ValueView).describe('Pressures and torque'),
  notes: z.array(z.string()).describe('Your own'),
});

export const VehicleRecords = z
  .object({
    vehicleId: Id.describe('The vehicle'),
    vehicle: z.looseObject({}).describe('The record of the car as it is now, with its baseline'),
    events: z
      .array(
        z.object({
          eventId: Id.describe('The event'),
          event: z.string().describe('Its name'),
          startsOn: PlainDateOut,
          endsOn: PlainDateOut,
          entryId: Id.describe('The entry that was declared last'),
          carNumber: z.string().describe('Exact text'),
          inspectionId: Id.describe('Its newest revision'),
          submittedAt: InstantOut,
          decision: z
            .enum(['accept', 'accept-with-conditions', 'refuse'])
            .nullable()
            .describe('What the line decided about it; null: nothing'),
          wear: z.array(ValueView).describe('Thicknesses and weights that wear: pads, rotors, tread'),
          services: z.array(ValueView).describe('Days on which something was last changed or serviced, as declared'),
          setup: z.array(ValueView).describe('Corner weights, alignment and ride height'),
          bestOuting: Outing.nullable().describe(
            'The session with the quickest lap, else the last with tyre pressures',
          ),
          baseline: z.looseObject({}).nullable().describe('The baseline of the vehicle record as it was then'),
        }),
      )
      .describe('Events for which the car was declared, newest first'),
    ends: z
      .array(
        z.object({
          title: z.string().describe('What ends'),
          of: z.enum(['service', 'label']).describe('What it is'),
          on: PlainDateOut.describe('Last day it is accepted'),
        }),
      )
      .describe('By the newest declaration, the first end first'),
  })
  .meta({ id: 'VehicleRecords' });
export type VehicleRecords = z.infer<typeof VehicleRecords>;

export const RECORDS_EXAMPLE: VehicleRecords = {
  vehicleId: '019ab8f0-0000-7000-8000-0000000000d1',
  vehicle: { description: 'Club coupé 2.0, 2014', massKg: 1210 },
  events: [
    {
      eventId: '019ab8f0-0000-7000-8000-0000000000b1',
      event: 'Spring track weekend',
      startsOn: '2026-04-18',
      endsOn: '2026-04-19',
      entryId: '019ab8f0-0000-7000-8000-0000000000e1',
      carNumber: '42',
      inspectionId: '019ab8f0-0000-7000-8000-0000000000f1',
      submittedAt: '2026-04-14T18:20:00.000Z',
      decision: 'accept',
      wear: [
        {
          item: 'pad.thickness',
          label: 'Friction material thickness',
          position: 'FL.in',
          value: 8.5,
          unit: 'mm',
          by: 'inspector',
        },
      ],
      services: [
        {
          item: 'brake-fluid.flushed-on',
          label: 'Brake fluid last flushed on',
          value: '2026-03-28',
          by: 'entrant',
        },
      ],
      setup: [],
      bestOuting: null,
      baseline: null,
    },
  ],
  ends: [{ title: 'Age of the brake fluid', of: 'service', on: '2027-03-28' }],
};
