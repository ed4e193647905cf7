import { z } from 'zod';
import { measure } from './calculation.ts';
import { DEFAULT_WEAR_MM_PER_MJ } from './pad-forecast-wear.ts';

/** Least friction material at the end of an event, mm; common practice, no source. */
export const DEFAULT_END_MINIMUM_MM = 2;
/** Below this a pad fails the road test: DVSA inspection manual for cars 3.5 (2012 on), read in quotation. */
export const ROAD_TEST_FLOOR_MM = 1.5;

/** Wheel, and inner or outer pad. */
export const PAD_POSITIONS = ['FL.in', 'FL.out', 'FR.in', 'FR.out', 'RL.in', 'RL.out', 'RR.in', 'RR.out'] as const;
export type PadPosition = (typeof PAD_POSITIONS)[number];

const reading = z.strictObject({
  thicknessMm: measure('mm', 'Friction material, backing plate excluded', { min: 0, max: 40 }),
  sessions: z.number().min(0).max(100_000).describe('Sessions driven: see `counting`'),
  padsChanged: z.boolean().optional().describe('This reading is the first of new pads'),
});

const perAxleEnergy = z
  .strictObject({
    front: z.number().positive().max(1000).optional().describe('One front wheel, MJ per session'),
    rear: z.number().positive().max(1000).optional().describe('One rear wheel, MJ per session'),
  })
  .describe('Braking energy of one wheel in a session; decides where there are no two readings of the pads');

/** Request body of the pad forecast. */
export const PadForecastInput = z.strictObject({
  pads: z
    .array(
      z.strictObject({
        position: z.enum(PAD_POSITIONS).describe('Wheel, and inner or outer pad'),
        history: z.array(reading).min(1).max(200).describe('Oldest first'),
      }),
    )
    .min(1)
    .max(PAD_POSITIONS.length)
    .describe('Pads to forecast'),
  counting: z
    .enum(['cumulative', 'per-event'])
    .default('cumulative')
    .describe('`sessions` counts on from reading to reading, or counts those since the reading before'),
  sessionsToCome: z.int().min(0).max(1000).describe('Sessions from the last reading to the end of the event'),
  minimumMm: measure('mm', `Least at the end; ${DEFAULT_END_MINIMUM_MM} mm where not given`, {
    min: 0,
    max: 40,
  }).optional(),
  energyPerSessionMJ: perAxleEnergy.optional(),
  wearMmPerMJ: z
    .number()
    .positive()
    .max(10)
    .optional()
    .describe(`Wear per energy at one wheel, mm/MJ; ${DEFAULT_WEAR_MM_PER_MJ} where not given`),
});
export type PadForecastInput = z.infer<typeof PadForecastInput>;

const point = z.object({
  session: z.number().describe('Sessions driven'),
  thicknessMm: z.number().describe('Friction material, mm'),
});

/** Answer of the pad forecast. */
export const PadForecastResult = z.object({
  minimumMm: z.number().describe('Least friction material at the end, mm'),
  enough: z.boolean().describe('Whether every pad given ends at or above the minimum'),
  firstToWearOut: z.enum(PAD_POSITIONS).describe('The pad that reaches the minimum first'),
  pads: z
    .array(
      z.object({
        position: z.enum(PAD_POSITIONS).describe('Wheel, and inner or outer pad'),
        thicknessMm: z.number().describe('At the last reading, mm'),
        mmPerSession: z.number().describe('Wear that the forecast uses, mm per session'),
        method: z
          .enum(['least-squares', 'worst-recent', 'resolution', 'energy'])
          .describe('What decided the wear: the fastest of the ways that the readings allow, or the energy'),
        endThicknessMm: z.number().describe('At the end of the event, mm'),
        sessionsLeft: z.number().describe('Whole sessions before the pad is below the minimum'),
        enough: z.boolean().describe('Whether it ends at or above the minimum'),
        belowRoadTest: z.boolean().describe(`Whether it ends below the road-test floor of ${ROAD_TEST_FLOOR_MM} mm`),
        series: z
          .object({
            measured: z.array(point).describe('Readings of the pads that are on the car'),
            forecast: z.array(point).describe('Straight from the last reading to the end of the event'),
          })
          .describe('For a plot'),
      }),
    )
    .describe('In the order given'),
});
export type PadForecastResult = z.infer<typeof PadForecastResult>;
