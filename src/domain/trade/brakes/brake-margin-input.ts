import { z } from 'zod';
import { measure } from '../calculation.ts';
import { BrakeHeatInput } from './brake-heat-input.ts';

const boiling = (what: string) => measure('°C', what, { min: 100, max: 400 });

/** Request body of the brake margin. */
export const BrakeMarginInput = z.strictObject({
  session: BrakeHeatInput.describe('The car, the lap and the session, as brake-heat takes them'),
  fluid: z
    .strictObject({
      dryBoilingPoint: boiling('Boiling point of the fresh fluid, from its label'),
      wetBoilingPoint: boiling('Wet boiling point, from its label'),
      flushedOn: z.iso.date().optional().describe('When it was changed; without it the wet point counts'),
      on: z.iso.date().optional().describe('The day of the session; needed with flushedOn'),
    })
    .describe('The brake fluid in the car'),
  pads: z
    .strictObject({
      thicknessMm: measure('mm', 'Thinnest lining on the hotter axle', { min: 0, max: 40 }).optional(),
      highC: measure('°C', "End of the pads' range, from their maker", { min: 100, max: 1500 }).optional(),
    })
    .optional()
    .describe('The pads of the hotter axle, where they are known'),
});
export type BrakeMarginInput = z.infer<typeof BrakeMarginInput>;

const Band = z.strictObject({
  low: z.number().describe('5 of 100 are below, K'),
  middle: z.number().describe('Half are below, K'),
  high: z.number().describe('5 of 100 are above, K'),
});

/** What the brake margin answers. */
export const BrakeMarginResult = z.strictObject({
  axle: z.enum(['front', 'rear']).describe('The hotter axle'),
  boilingPointC: z.number().describe('Of the fluid on that day, at the usual uptake of water'),
  laps: z.array(
    z.strictObject({
      lap: z.int().describe('Lap of the session, from 1'),
      rotorC: z.number().describe('Peak of the rotor in this lap'),
      fluidC: z.number().describe('Hottest fluid in this lap'),
      fluidMargin: Band.describe('Boiling point less fluid temperature'),
      padMargin: Band.optional().describe("End of the pads' range less rotor peak"),
    }),
  ),
  fluidUsedInLap: z
    .int()
    .optional()
    .describe('First lap from which it is no longer 95 % sure that the fluid does not boil; absent: none'),
  padsUsedInLap: z.int().optional().describe('The same for the end of the range of the pads'),
  keepsMinutes: z.number().describe('Minutes driven before the first of these laps'),
  soak: z
    .strictObject({
      fluidC: z.number().describe('Hottest fluid after stopping, if the car is parked at once'),
      afterMinutes: z.number(),
      margin: z.number().describe('Boiling point less that, K'),
    })
    .describe('Heat that goes on into the fluid when the car stands'),
  helps: z
    .array(
      z.strictObject({
        what: z.string().describe('What would be done'),
        gainK: z.number().describe('More margin in the last lap'),
      }),
    )
    .describe('What helps the fluid most, first first'),
});
export type BrakeMarginResult = z.infer<typeof BrakeMarginResult>;
