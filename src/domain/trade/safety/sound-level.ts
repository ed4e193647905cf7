import { z } from 'zod';
import { CAUTIONS } from '../../cautions.ts';
import { roundTo } from '../../quantity.ts';
import { type Assumption, calculation, measure, notComputable, NotComputable, type WorkStep } from '../calculation.ts';

export const SOUND_METHODS = ['near-field', 'drive-by', 'static'] as const;
export type SoundMethod = (typeof SOUND_METHODS)[number];

/** Readings this close to the outlet are near-field: about a wavelength at 115 Hz. From memory. */
export const NEAR_FIELD_WITHIN_M = 3;
/** Standard uncertainty of a hand-held meter and its place, dB. From memory. */
export const METER_UNCERTAINTY_DB = 1.5;
/** How well a distance is paced out or taped at a circuit, m. Common practice. */
export const DISTANCE_UNCERTAINTY_M = 0.25;

/**
 * The level at another distance from a small source in the open: `L2 = L1 − 20·log10(r2/r1)`. Levels in dB(A),
 * distances in metres. The bare formula: it does not know whether it may be used (`soundAtReference` does).
 *
 * @throws NotComputable `/distance` or `/referenceDistance` not above 0
 * @see inverse distance law for a point source in a free field (acoustics course notes)
 */
export function levelAtDistance(levelDb: number, fromM: number, toM: number): number {
  if (!(fromM > 0)) throw notComputable('/distance', 'not-positive', 'A distance is above 0 m.');
  if (!(toM > 0)) throw notComputable('/referenceDistance', 'not-positive', 'A distance is above 0 m.');
  return levelDb - 20 * Math.log10(toM / fromM);
}

/** A reading and where it is to be stated. */
export interface SoundReading {
  levelDb: number;
  distanceM: number;
  method: SoundMethod;
  referenceM: number;
  /** distances up to this one are near-field; `NEAR_FIELD_WITHIN_M` when left out */
  nearFieldWithinM?: number;
}

/**
 * The level (dB(A)) that a reading stands for at the reference distance of the venue, free field assumed.
 *
 * @throws NotComputable `near-field`: the reading, or the reference distance, is so close to the outlet that the level
 * does not follow distance; `not-positive`: a distance of 0 or less
 * @see UK static test, 0.5 m: a near-field check of its own, never a way to a trackside level
 */
export function soundAtReference(reading: SoundReading): number {
  const { levelDb, distanceM, method, referenceM, nearFieldWithinM = NEAR_FIELD_WITHIN_M } = reading;
  if (method === 'near-field') throw nearField('/method', 'This reading is near-field by its own method.');
  if (samePlace(distanceM, referenceM) && distanceM > 0) return levelDb;
  const level = levelAtDistance(levelDb, distanceM, referenceM);
  const within = `within ${nearFieldWithinM} m of the outlet`;
  if (distanceM <= nearFieldWithinM) throw nearField('/distance', `${distanceM} m is ${within}.`);
  if (referenceM <= nearFieldWithinM) throw nearField('/referenceDistance', `${referenceM} m is ${within}.`);
  return level;
}

/** Distances from feet carry conversion noise; nobody tapes to a millimetre. */
const samePlace = (fromM: number, toM: number): boolean => Math.abs(fromM - toM) < 0.001;

const nearField = (pointer: string, why: string): NotComputable =>
  notComputable(
    pointer,
    'near-field',
    `${why} A near-field level cannot be converted to another distance; measure again there.`,
  );

/**
 * `soundAtReference` for facts: `undefined` where it refuses, so that a rule reads "cannot be compared". In dB(A).
 * Never throws.
 *
 * @see `soundAtReference`
 */
export function findSoundAtReference(reading: SoundReading): number | undefined {
  try {
    return soundAtReference(reading);
  } catch (error) {
    // a refusal is the answer "not known" here; anything else is a fault of ours
    if (error instanceof NotComputable) return undefined;
    throw error;
  }
}

export interface SoundUncertainty {
  meterDb: number;
  /** of both distances, m */
  distanceM: number;
}

/**
 * Standard uncertainty (dB) of a level stated at the reference distance: meter and both distances, added as squares.
 * Ground, wind and reflections are not in it. At the same distance only the meter counts. Never throws.
 *
 * @see derived: the derivative of 20·log10(r) is 8.686/r dB per metre
 */
export function soundUncertainty(fromM: number, toM: number, of: SoundUncertainty): number {
  if (samePlace(fromM, toM)) return of.meterDb;
  const perMetre = 20 / Math.LN10;
  return Math.hypot(of.meterDb, (perMetre * of.distanceM) / fromM, (perMetre * of.distanceM) / toM);
}

const Input = z.strictObject({
  level: measure('dB(A)', 'Level as read', { min: 30, max: 160 }),
  distance: measure('m', 'Distance of the microphone from the outlet or the line of the car', { min: 0.1, max: 200 }),
  method: z.enum(SOUND_METHODS).describe('near-field (close to the tailpipe), drive-by or static'),
  referenceDistance: measure('m', 'Distance that the limit of the venue is stated for', { min: 0.1, max: 200 }),
  limit: measure('dB(A)', 'Limit of the venue at its distance', { min: 30, max: 160 }).optional(),
  nearFieldWithin: measure('m', 'Readings up to this distance are near-field; 3 m when left out', {
    min: 0.5,
    max: 50,
  }).optional(),
  meterUncertainty: measure('dB(A)', 'Standard uncertainty of meter and place; 1.5 dB when left out', {
    min: 0,
    max: 10,
  }).optional(),
  distanceUncertainty: measure('m', 'Standard uncertainty of both distances; 0.25 m when left out', {
    min: 0,
    max: 10,
  }).optional(),
});
type Input = z.infer<typeof Input>;

const VERDICTS = ['below', 'above', 'too-close-to-say'] as const;

const Result = z.object({
  levelAtReferenceDb: z.number().describe('Level at the reference distance, dB(A)'),
  converted: z.boolean().describe('False where the reading was taken at the reference distance'),
  uncertaintyDb: z.number().describe('Expanded uncertainty (two standard uncertainties), dB'),
  marginDb: z.number().nullable().describe('Limit less level, dB; negative when too loud; null without a limit'),
  verdict: z
    .enum(VERDICTS)
    .nullable()
    .describe(
      'Against the limit: below or above by more than the uncertainty, or too-close-to-say; null without a limit',
    ),
});

const verdictOf = (marginDb: number, uncertaintyDb: number): (typeof VERDICTS)[number] => {
  if (marginDb >= uncertaintyDb) return 'below';
  return marginDb < -uncertaintyDb ? 'above' : 'too-close-to-say';
};

function workSteps(input: Input, level: number, uncertainty: number): WorkStep[] {
  const { distance, referenceDistance } = input;
  return [
    {
      what: 'Level at the reference distance',
      formula: 'L2 = L1 − 20·log10(r2/r1)',
      numbers: `${input.level} − 20·log10(${referenceDistance} m/${distance} m)`,
      result: `${roundTo(level, 1)} dB(A)`,
    },
    {
      what: 'Expanded uncertainty',
      formula: samePlace(distance, referenceDistance)
        ? 'U = 2·u_meter'
        : 'U = 2·√(u_meter² + (8.69·u_r/r1)² + (8.69·u_r/r2)²)',
      numbers: `meter ${input.meterUncertainty ?? METER_UNCERTAINTY_DB} dB, distances ${input.distanceUncertainty ?? DISTANCE_UNCERTAINTY_M} m`,
      result: `${roundTo(uncertainty, 1)} dB`,
    },
  ];
}

function assumptionsOf(input: Input): Assumption[] {
  const defaults: (Assumption & { given: number | undefined })[] = [
    {
      name: 'Near-field within',
      value: `${NEAR_FIELD_WITHIN_M} m`,
      standing: 'from-memory',
      given: input.nearFieldWithin,
    },
    {
      name: 'Standard uncertainty of meter and place',
      value: `${METER_UNCERTAINTY_DB} dB`,
      standing: 'from-memory',
      given: input.meterUncertainty,
    },
    {
      name: 'Standard uncertainty of the distances',
      value: `${DISTANCE_UNCERTAINTY_M} m`,
      standing: 'common-practice',
      given: input.distanceUncertainty,
    },
  ];
  const used = defaults.filter(({ given }) => given === undefined);
  const field: Assumption = {
    name: 'Free field',
    value: 'a small source in the open: no walls, no barriers, no effect of the ground',
    standing: 'secondary',
  };
  return [field, ...used.map(({ name, value, standing }) => ({ name, value, standing }))];
}

/** `sound-level`: a reading stated at the reference distance of the venue; near-field readings are refused. */
export const SOUND_LEVEL = calculation({
  name: 'sound-level',
  title: "Sound level at the venue's distance",
  summary:
    'Converts a reading in the open to another distance, with its uncertainty; refuses readings near the tailpipe.',
  input: Input,
  result: Result,
  sources: [{ title: 'Inverse distance law, acoustics course notes', standing: 'secondary' }],
  example: { level: 92, distance: 20, method: 'static', referenceDistance: { value: 50, unit: 'ft' }, limit: 95 },
  compute(input) {
    const level = soundAtReference({
      levelDb: input.level,
      distanceM: input.distance,
      method: input.method,
      referenceM: input.referenceDistance,
      ...(input.nearFieldWithin !== undefined && { nearFieldWithinM: input.nearFieldWithin }),
    });
    const uncertainty =
      2 *
      soundUncertainty(input.distance, input.referenceDistance, {
        meterDb: input.meterUncertainty ?? METER_UNCERTAINTY_DB,
        distanceM: input.distanceUncertainty ?? DISTANCE_UNCERTAINTY_M,
      });
    const margin = input.limit === undefined ? undefined : input.limit - level;
    return {
      result: {
        levelAtReferenceDb: roundTo(level, 1),
        converted: !samePlace(input.distance, input.referenceDistance),
        uncertaintyDb: roundTo(uncertainty, 1),
        marginDb: margin === undefined ? null : roundTo(margin, 1),
        verdict: margin === undefined ? null : verdictOf(margin, uncertainty),
      },
      steps: workSteps(input, level, uncertainty),
      assumptions: assumptionsOf(input),
      cautions: [CAUTIONS['noise-meter'].text],
    };
  },
});

const energy = (levelDb: number): number => 10 ** (levelDb / 10);

/**
 * The level (dB(A)) of several sources at once: their energies add, `10·log10 Σ 10^(L/10)`.
 *
 * @throws NotComputable `/levels` when there is none
 * @see acoustics course notes; n equal sources add 10·log10 n
 */
export function addLevels(levelsDb: readonly number[]): number {
  if (levelsDb.length === 0) throw notComputable('/levels', 'empty', 'Give at least one level.');
  return 10 * Math.log10(levelsDb.reduce((sum, level) => sum + energy(level), 0));
}

/**
 * The equivalent level Leq (dB(A)) of readings of equal duration: the mean of their energies. The mean of the numbers
 * reads too low.
 *
 * @throws NotComputable `/levels` when there is none
 * @see acoustics course notes: the mean of energies
 */
export function equivalentLevel(levelsDb: readonly number[]): number {
  return addLevels(levelsDb) - 10 * Math.log10(levelsDb.length);
}

const AverageInput = z.strictObject({
  levels: z
    .array(measure('dB(A)', 'One reading', { min: 30, max: 160 }))
    .min(1)
    .max(200)
    .describe('Readings at one place, each over the same time'),
});

const AverageResult = z.object({
  equivalentDb: z.number().describe('Equivalent level Leq over all readings, dB(A)'),
  loudestDb: z.number().describe('The loudest reading, dB(A): what a limit on the maximum is held against'),
});

/** `sound-average`: the equivalent level of several readings. */
export const SOUND_AVERAGE = calculation({
  name: 'sound-average',
  title: 'Equivalent sound level',
  summary: 'The equivalent level Leq of several readings of equal duration; levels are never averaged as numbers.',
  input: AverageInput,
  result: AverageResult,
  sources: [{ title: 'Level addition, acoustics course notes', standing: 'secondary' }],
  example: { levels: [88, 91, 90] },
  compute({ levels }) {
    const equivalent = equivalentLevel(levels);
    return {
      result: { equivalentDb: roundTo(equivalent, 1), loudestDb: roundTo(Math.max(...levels), 1) },
      steps: [
        {
          what: 'Equivalent level',
          formula: 'Leq = 10·log10(Σ 10^(L/10) / n)',
          numbers: `L = ${levels.map((level) => roundTo(level, 1)).join(', ')}; n = ${levels.length}`,
          result: `${roundTo(equivalent, 1)} dB(A)`,
        },
      ],
      assumptions: [{ name: 'Duration', value: 'each reading covers the same time', standing: 'derived' }],
      cautions: [CAUTIONS['noise-meter'].text],
    };
  },
});
