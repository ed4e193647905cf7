import { z } from 'zod';
import { CAUTIONS } from '../../cautions.ts';
import { formatQuantity as show, roundTo } from '../../quantity.ts';
import {
  type Assumption,
  calculation,
  measure,
  notComputable,
  type TradeFault,
  NotComputable,
} from '../calculation.ts';

const RADIANS = Math.PI / 180;

/** A car with one axle raised. `staying` is the axle on the scales, `raised` the other. */
export interface RaisedCar {
  totalKg: number;
  wheelbaseMm: number;
  /** from the centre of gravity to the axle that is raised, level; the staying axle's share of the wheelbase */
  cgToRaisedMm: number;
  cgToStayingMm: number;
  stayingRadiusMm: number;
  raisedRadiusMm: number;
  /** load of the staying axle while the other is up */
  stayingRaisedKg: number;
  angleDeg: number;
}

export interface CgBounds {
  heightMm: readonly [number, number];
  angleDeg: readonly [number, number];
  /** how far `cgToRaisedMm + cgToStayingMm` may be from the wheelbase, percent */
  wheelbasePercent: number;
}

/** What a measurement on a car can give. Common practice, no source. */
export const CG_BOUNDS: CgBounds = { heightMm: [150, 1200], angleDeg: [2, 35], wheelbasePercent: 1 };

/**
 * The height of the centre of gravity above the ground by the published formula, mm, whatever comes out: nothing is
 * refused here. For a measurement use `measuredCgHeightMm`.
 *
 * h = rs·c/L + rr·a/L + (Ws·L − m·c)/(m·tan θ), c to the raised axle, a to the staying axle. Never throws.
 *
 * @see formula collection, "height of centre of gravity by jacking the vehicle from the rear" (secondary); three
 *   derivations seen agree on tan θ. One ends in sin θ, which is 0.5 % too high at a lift of a tenth of the wheelbase.
 */
export function cgHeightMm(car: RaisedCar): number {
  const { wheelbaseMm: L, totalKg: m, cgToRaisedMm: c } = car;
  const axleLine = (car.stayingRadiusMm * c + car.raisedRadiusMm * car.cgToStayingMm) / L;
  return axleLine + (car.stayingRaisedKg * L - m * c) / (m * Math.tan(car.angleDeg * RADIANS));
}

/**
 * The angle of the car with one axle raised by `liftMm`, degrees: the wheelbase is the long side, so sin.
 *
 * @throws NotComputable at `/liftMm` when the lift is not between 0 and the wheelbase. Source: geometry.
 */
export function liftAngleDeg(liftMm: number, wheelbaseMm: number): number {
  const sine = liftMm / wheelbaseMm;
  if (sine > 0 && sine < 1) return Math.asin(sine) / RADIANS;
  throw notComputable(
    '/liftMm',
    'implausible',
    'A car can be raised by more than nothing and less than its wheelbase.',
  );
}

/**
 * How far the height can be off when each of the two axle readings is off by `resolutionKg`, mm.
 *
 * Source: propagation of two independent errors, L·√2·δ/(m·tan θ). Total, never throws for a plausible car.
 */
export function cgUncertaintyMm(car: RaisedCar, resolutionKg: number): number {
  return (car.wheelbaseMm * Math.SQRT2 * resolutionKg) / (car.totalKg * Math.tan(car.angleDeg * RADIANS));
}

/**
 * Static stability factor: half the track over the height of the centre of gravity, both mm.
 *
 * @throws NotComputable at `/trackMm` when one of them is not positive
 * @see NHTSA rollover rating rulemaking, chapter 5 (published)
 */
export function staticStabilityFactor(trackMm: number, heightMm: number): number {
  if (trackMm > 0 && heightMm > 0) return trackMm / (2 * heightMm);
  throw notComputable('/trackMm', 'not-positive', 'Track and height are positive.');
}

/**
 * What cannot be true of a car that was measured; empty when plausible. Pointers are the names of `RaisedCar`.
 *
 * Source: statics (an axle never carries more than the car, the staying axle gains) and common practice for bounds.
 * Lengths in mm, masses in kg, the angle in degrees. Never throws.
 */
export function cgFaults(car: RaisedCar, bounds: CgBounds = CG_BOUNDS): TradeFault[] {
  const faults: TradeFault[] = [];
  const add = (pointer: string, detail: string): void => {
    faults.push({ pointer, code: 'implausible', detail });
  };
  const off = Math.abs(car.cgToRaisedMm + car.cgToStayingMm - car.wheelbaseMm);
  if (off > (car.wheelbaseMm * bounds.wheelbasePercent) / 100)
    add('/cgToRaisedMm', 'The distances from the centre of gravity to the axles do not add up to the wheelbase.');
  const levelKg = (car.totalKg * car.cgToRaisedMm) / car.wheelbaseMm;
  if (car.stayingRaisedKg >= car.totalKg)
    add('/stayingRaisedKg', `One axle cannot carry the whole car (${show(car.totalKg, 'kg')}) or more.`);
  else if (car.stayingRaisedKg <= levelKg)
    add('/stayingRaisedKg', 'The axle that stays down gains load when the other is raised; this one did not.');
  const [flattest, steepest] = bounds.angleDeg;
  if (!(car.angleDeg >= flattest && car.angleDeg <= steepest))
    add(
      '/angleDeg',
      `${show(roundTo(car.angleDeg, 1), 'deg')} is outside ${flattest}° to ${steepest}°: too flat to tell, or not safe.`,
    );
  const height = cgHeightMm(car);
  const [lowest, highest] = bounds.heightMm;
  if (!(height >= lowest && height <= highest))
    add(
      '/stayingRaisedKg',
      `The height would be ${show(roundTo(height, 0), 'mm')}; cars lie between ${lowest} and ${highest} mm.`,
    );
  return faults;
}

/**
 * The height of the centre of gravity of a car as measured, mm above the ground.
 *
 * @throws NotComputable naming everything that cannot be (`cgFaults`)
 * @see `cgHeightMm`
 */
export function measuredCgHeightMm(car: RaisedCar, bounds: CgBounds = CG_BOUNDS): number {
  const faults = cgFaults(car, bounds);
  if (faults.length > 0) throw new NotComputable(faults);
  return cgHeightMm(car);
}

const load = (what: string) => measure('kg', what, { min: 1, max: 4000 });
const radius = (axle: string) =>
  measure('mm', `Height of the ${axle} axle above the ground, loaded`, { min: 100, max: 600 });

const Input = z.strictObject({
  wheelbaseMm: measure('mm', 'Wheelbase', { min: 1000, max: 5000 }),
  frontKg: load('Front axle load, car level'),
  rearKg: load('Rear axle load, car level'),
  raised: z.enum(['front', 'rear']).describe('The axle that is raised; the other stays on the scales'),
  stayingRaisedKg: load('Load of the axle that stays down, the other raised'),
  liftMm: measure('mm', 'How far the axle is raised; give this or the angle', { min: 1, max: 4000 }).optional(),
  angleDeg: measure('deg', 'Angle of the car, raised; give this or the lift', { min: 0, max: 90 }).optional(),
  frontRadiusMm: radius('front'),
  rearRadiusMm: radius('rear'),
  trackMm: measure('mm', 'Track width, for the static stability factor', { min: 500, max: 3000 }).optional(),
  scaleResolutionKg: measure('kg', 'What an axle reading may be off (1 where absent)', { min: 0, max: 50 }).optional(),
});
type Input = z.infer<typeof Input>;

const Result = z.object({
  heightMm: z.number().describe('Centre of gravity above the ground, mm'),
  uncertaintyMm: z.number().describe('How far it can be off from the scales alone, ± mm'),
  angleDeg: z.number().describe('Angle of the car while raised, degrees'),
  gainKg: z.number().describe('What the axle that stayed down gained, kg'),
  behindFrontAxleMm: z.number().describe('Centre of gravity behind the front axle, mm'),
  staticStabilityFactor: z.number().nullable().describe('Half the track over the height; null without a track'),
});
type Result = z.infer<typeof Result>;

function carOf(input: Input): RaisedCar {
  if ((input.liftMm === undefined) === (input.angleDeg === undefined))
    throw notComputable('/liftMm', 'one-of', 'Give either liftMm or angleDeg.');
  const totalKg = input.frontKg + input.rearKg;
  const rearUp = input.raised === 'rear';
  const stayingLevelKg = rearUp ? input.frontKg : input.rearKg;
  const cgToRaisedMm = (input.wheelbaseMm * stayingLevelKg) / totalKg;
  return {
    totalKg,
    wheelbaseMm: input.wheelbaseMm,
    cgToRaisedMm,
    cgToStayingMm: input.wheelbaseMm - cgToRaisedMm,
    stayingRadiusMm: rearUp ? input.frontRadiusMm : input.rearRadiusMm,
    raisedRadiusMm: rearUp ? input.rearRadiusMm : input.frontRadiusMm,
    stayingRaisedKg: input.stayingRaisedKg,
    angleDeg: input.angleDeg ?? liftAngleDeg(input.liftMm ?? 0, input.wheelbaseMm),
  };
}

/** Faults about the angle point at the lift where that is what was given. */
function assertMeasured(input: Input, car: RaisedCar): void {
  const faults = cgFaults(car).map((fault) =>
    fault.pointer === '/angleDeg' && input.liftMm !== undefined ? { ...fault, pointer: '/liftMm' } : fault,
  );
  if (faults.length > 0) throw new NotComputable(faults);
}

function assumptionsOf(input: Input): Assumption[] {
  const list: Assumption[] = [
    { name: 'suspension', value: 'locked, so that the body does not move on its springs', standing: 'secondary' },
    { name: 'plausible heights', value: `${CG_BOUNDS.heightMm.join(' to ')} mm`, standing: 'common-practice' },
    { name: 'plausible angles', value: `${CG_BOUNDS.angleDeg.join(' to ')}°`, standing: 'common-practice' },
  ];
  if (input.scaleResolutionKg === undefined)
    list.push({ name: 'axle reading', value: 'off by 1 kg at most', standing: 'common-practice' });
  return list;
}

/** Height of the centre of gravity by raising one axle. */
export const CG_HEIGHT = calculation<Input, Result>({
  name: 'cg-height',
  title: 'Height of the centre of gravity',
  summary: 'From axle loads level and with one axle raised; inputs that cannot be are refused.',
  input: Input,
  result: Result,
  sources: [
    { title: 'Three derivations of the raised-axle method that agree', standing: 'secondary' },
    { title: 'NHTSA rollover rating rulemaking, chapter 5: static stability factor', standing: 'published' },
  ],
  example: {
    wheelbaseMm: 2570,
    frontKg: 640,
    rearKg: 610,
    raised: 'rear',
    stayingRaisedKg: 665,
    liftMm: 500,
    frontRadiusMm: 300,
    rearRadiusMm: 300,
    trackMm: 1520,
  },
  compute(input) {
    const car = carOf(input);
    assertMeasured(input, car);
    const height = cgHeightMm(car);
    const levelKg = (car.totalKg * car.cgToRaisedMm) / car.wheelbaseMm;
    const result: Result = {
      heightMm: roundTo(height, 0),
      uncertaintyMm: Math.ceil(cgUncertaintyMm(car, input.scaleResolutionKg ?? 1)),
      angleDeg: roundTo(car.angleDeg, 2),
      gainKg: roundTo(car.stayingRaisedKg - levelKg, 1),
      behindFrontAxleMm: roundTo((input.wheelbaseMm * input.rearKg) / car.totalKg, 0),
      staticStabilityFactor:
        input.trackMm === undefined ? null : roundTo(staticStabilityFactor(input.trackMm, height), 2),
    };
    return {
      result,
      steps: stepsOf(input, car, result),
      assumptions: assumptionsOf(input),
      cautions: cautionsOf(result),
    };
  },
});

function stepsOf(input: Input, car: RaisedCar, result: Result) {
  const line = (car.stayingRadiusMm * car.cgToRaisedMm + car.raisedRadiusMm * car.cgToStayingMm) / car.wheelbaseMm;
  const lineMm = roundTo(line, 1);
  const angle = {
    what: 'Angle',
    formula: 'θ = asin(lift/L)',
    numbers: `asin(${input.liftMm}/${car.wheelbaseMm})`,
    result: show(result.angleDeg, 'deg'),
  };
  return [
    ...(input.liftMm === undefined ? [] : [angle]),
    {
      what: 'Height of the line between the axles at the centre of gravity',
      formula: 'r = (rs·c + rr·a)/L',
      numbers: `(${car.stayingRadiusMm}·${roundTo(car.cgToRaisedMm, 1)} + ${car.raisedRadiusMm}·${roundTo(car.cgToStayingMm, 1)})/${car.wheelbaseMm}`,
      result: show(lineMm, 'mm'),
    },
    {
      what: 'Height of the centre of gravity',
      formula: 'h = r + L·ΔW/(m·tan θ)',
      numbers: `${lineMm} + ${car.wheelbaseMm}·${result.gainKg}/(${roundTo(car.totalKg, 1)}·tan ${result.angleDeg}°)`,
      result: `${show(result.heightMm, 'mm')} ± ${show(result.uncertaintyMm, 'mm')}`,
    },
  ];
}

function cautionsOf(result: Result): string[] {
  const vague = result.uncertaintyMm > 0.1 * result.heightMm;
  const raise =
    'The scales alone leave more than a tenth of the height open: raise the axle further or use finer scales.';
  return [CAUTIONS.lifting.text, CAUTIONS['corner-scales'].text, ...(vague ? [raise] : [])];
}
