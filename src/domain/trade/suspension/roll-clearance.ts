import { z } from 'zod';
import { roundTo } from '../../quantity.ts';
import { type Assumption, calculation, measure, notComputable, NotComputable, type WorkStep } from '../calculation.ts';

/** Least clearance above the helmet, mm: about two inches. From memory; organizers set their own. */
export const CLEARANCE_NEEDED_MM = 50;
/** Half the width of a full-face helmet, mm. From memory. */
export const HELMET_RADIUS_MM = 140;

/** A point in the side view, mm: x forward, z up, from any one origin. */
export interface SidePoint {
  x: number;
  z: number;
}

export interface RollLine {
  /** top of the main hoop */
  hoopTop: SidePoint;
  /** top of the header or front hoop that the line rests on */
  front: SidePoint;
  /** highest point of the helmet */
  helmetTop: SidePoint;
  /** radius of the helmet's crown, mm; 0 judges its highest point alone */
  helmetRadiusMm?: number;
}

export interface RollClearance {
  /** height of the line straight above the highest point of the helmet, mm; negative: the helmet stands out */
  verticalMm: number;
  /** smallest distance from the round of the helmet to the line, mm; never more than verticalMm */
  clearanceMm: number;
  /** how far the line falls (negative) or rises to the front, degrees */
  slopeDeg: number;
}

/**
 * Clearance of the helmet under the line from the main hoop to the front structure, seen from the side.
 *
 * The line touches a round helmet off its highest point when it is steep, so both distances are given. All lengths are
 * in mm.
 *
 * @throws NotComputable `/front` not in front of the hoop; `/helmetTop` not between hoop and front structure: there the
 * line protects nobody; `/helmetRadius` negative
 * @see common practice (a straight edge from hoop to header); plane geometry
 */
export function rollClearance(line: RollLine): RollClearance {
  const { hoopTop, front, helmetTop, helmetRadiusMm = HELMET_RADIUS_MM } = line;
  const run = front.x - hoopTop.x;
  if (!(run > 0)) {
    throw notComputable('/front', 'not-in-front', 'The front structure is not in front of the hoop: x counts forward.');
  }
  if (!(helmetTop.x >= hoopTop.x && helmetTop.x <= front.x)) {
    throw notComputable(
      '/helmetTop',
      'not-under-line',
      'The helmet is not between the hoop and the front structure: the line does not protect it.',
    );
  }
  if (!(helmetRadiusMm >= 0)) throw notComputable('/helmetRadius', 'negative', 'A radius is 0 mm or more.');
  const slope = Math.atan2(front.z - hoopTop.z, run);
  const verticalMm = hoopTop.z + (helmetTop.x - hoopTop.x) * Math.tan(slope) - helmetTop.z;
  const clearanceMm = (verticalMm + helmetRadiusMm) * Math.cos(slope) - helmetRadiusMm;
  return { verticalMm, clearanceMm: Math.min(verticalMm, clearanceMm), slopeDeg: (slope * 180) / Math.PI };
}

/**
 * `rollClearance` for facts: `undefined` where it refuses, so that a rule is unanswerable instead of met. Lengths in
 * mm. Never throws for what `rollClearance` refuses.
 *
 * @see `rollClearance`
 */
export function findRollClearance(line: RollLine): RollClearance | undefined {
  try {
    return rollClearance(line);
  } catch (error) {
    // a refusal is the answer "not known" here; anything else is a fault of ours
    if (error instanceof NotComputable) return undefined;
    throw error;
  }
}

const point = (what: string) =>
  z
    .strictObject({
      x: measure('mm', 'Forward', { min: -5000, max: 5000 }),
      z: measure('mm', 'Up', { min: -5000, max: 5000 }),
    })
    .describe(what);

const Input = z.strictObject({
  hoopTop: point('Top of the main hoop'),
  front: point('Top of the header or front hoop'),
  helmetTop: point('Highest point of the helmet: driver seated, belted, helmet on'),
  needed: measure('mm', 'Least clearance; 50 mm when left out', { min: 0, max: 500 }).optional(),
  helmetRadius: measure('mm', 'Radius of the crown of the helmet; 140 mm when left out', {
    min: 0,
    max: 300,
  }).optional(),
});
type Input = z.infer<typeof Input>;

const Result = z.object({
  clearanceMm: z.number().describe('Smallest distance from the round of the helmet to the line, mm'),
  verticalMm: z.number().describe('Line above the highest point of the helmet, measured straight up, mm'),
  slopeDeg: z.number().describe('Slope of the line, degrees; negative falls to the front'),
  neededMm: z.number().describe('Least clearance, mm'),
  enough: z.boolean().describe('Whether the clearance is the needed one or more'),
});

function workSteps({ hoopTop, front, helmetTop }: Input, result: RollClearance, radius: number): WorkStep[] {
  return [
    {
      what: 'Line above the helmet, straight up',
      formula: 'v = z_hoop + (x_helmet − x_hoop)·(z_front − z_hoop)/(x_front − x_hoop) − z_helmet',
      numbers: `${hoopTop.z} + (${helmetTop.x} − ${hoopTop.x})·(${front.z} − ${hoopTop.z})/(${front.x} − ${hoopTop.x}) − ${helmetTop.z}`,
      result: `${roundTo(result.verticalMm, 0)} mm`,
    },
    {
      what: 'Smallest distance from the round of the helmet',
      formula: 'c = (v + r)·cos(slope) − r, at most v',
      numbers: `(${roundTo(result.verticalMm, 1)} + ${radius})·cos(${roundTo(result.slopeDeg, 1)}°) − ${radius}`,
      result: `${roundTo(result.clearanceMm, 0)} mm`,
    },
  ];
}

function assumptionsOf({ needed, helmetRadius }: Input): Assumption[] {
  return [
    ...(needed === undefined
      ? [{ name: 'Clearance needed', value: `${CLEARANCE_NEEDED_MM} mm`, standing: 'from-memory' } as const]
      : []),
    ...(helmetRadius === undefined
      ? [{ name: 'Helmet crown radius', value: `${HELMET_RADIUS_MM} mm`, standing: 'from-memory' } as const]
      : []),
    {
      name: 'Stiff structure',
      value: 'hoop and front structure do not give way; the belts let nobody rise',
      standing: 'common-practice',
    },
  ];
}

/** `roll-clearance`: the helmet against the line from hoop to front structure, in the side view. */
export const ROLL_CLEARANCE = calculation({
  name: 'roll-clearance',
  title: 'Helmet clearance under the roll-over line',
  summary: 'How far the helmet stays under the line from the main hoop to the front structure, from three points.',
  input: Input,
  result: Result,
  sources: [
    { title: 'Straight edge from hoop to header, plane geometry', standing: 'common-practice' },
    { title: 'Two inches (50 mm) of clearance', standing: 'from-memory' },
  ],
  example: { hoopTop: { x: 0, z: 1200 }, front: { x: 1000, z: 1100 }, helmetTop: { x: 250, z: 1095 } },
  compute(input) {
    const radius = input.helmetRadius ?? HELMET_RADIUS_MM;
    const neededMm = input.needed ?? CLEARANCE_NEEDED_MM;
    const clearance = rollClearance({ ...input, helmetRadiusMm: radius });
    const clearanceMm = roundTo(clearance.clearanceMm, 0);
    return {
      result: {
        clearanceMm,
        verticalMm: roundTo(clearance.verticalMm, 0),
        slopeDeg: roundTo(clearance.slopeDeg, 1),
        neededMm,
        enough: clearanceMm >= neededMm,
      },
      steps: workSteps(input, clearance, radius),
      assumptions: assumptionsOf(input),
      cautions: [
        'Measure with the tallest person who will drive or ride, seated and belted with the helmet on; everyone in the car counts.',
      ],
    };
  },
});
