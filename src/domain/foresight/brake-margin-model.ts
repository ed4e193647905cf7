import { openRandom } from './random.ts';
import { boilingPointAtAge, type FluidPoints } from '../trade/brakes/fluid-boiling.ts';

/** Two bodies that exchange heat with each other and with the air: the rotor, and the caliper with its fluid. */
export interface TwoNodes {
  /** heat capacities, J/K */
  rotorJK: number;
  caliperJK: number;
  /** conductances, W/K: between the two, and of each to the air */
  betweenWK: number;
  rotorToAirWK: number;
  caliperToAirWK: number;
  ambientC: number;
}

export interface NodeTemperatures {
  rotorC: number;
  caliperC: number;
}

/**
 * Temperatures of a parked brake over time: the two bodies cool together. Exact (both modes of the linear system), °C; times in s
 * from the stop. Never throws.
 *
 * @see two coupled bodies with Newton cooling, textbook of heat transfer
 */
export function soakAt(nodes: TwoNodes, start: NodeTemperatures, seconds: number): NodeTemperatures {
  const { rotorJK, caliperJK, betweenWK, rotorToAirWK, caliperToAirWK, ambientC } = nodes;
  const a = -(betweenWK + rotorToAirWK) / rotorJK;
  const b = betweenWK / rotorJK;
  const c = betweenWK / caliperJK;
  const d = -(betweenWK + caliperToAirWK) / caliperJK;
  const [x, y] = [start.rotorC - ambientC, start.caliperC - ambientC];
  const half = (a + d) / 2;
  const root = Math.sqrt(((a - d) / 2) ** 2 + b * c);
  const [slow, fast] = [half + root, half - root];
  if (root === 0) {
    const fall = Math.exp(slow * seconds);
    return { rotorC: ambientC + x * fall, caliperC: ambientC + y * fall };
  }
  // exp(A·t) of a 2 × 2 matrix by its two eigenvalues (Sylvester)
  const [es, ef] = [Math.exp(slow * seconds), Math.exp(fast * seconds)];
  const [p, q] = [(es - ef) / (slow - fast), (slow * ef - fast * es) / (slow - fast)];
  return {
    rotorC: ambientC + (a * p + q) * x + b * p * y,
    caliperC: ambientC + c * p * x + (d * p + q) * y,
  };
}

/**
 * How fast the caliper follows the rotor while driving, s, and how much more of the rotor's rise comes through thin pads. The times and
 * the share are common practice, no source: fitted to nothing, and wide in the band.
 */
export const CALIPER = {
  followsS: 300,
  /** heat capacity of the caliper with pads and fluid beside that of the rotor */
  capacityOfRotor: 0.5,
  /** what is lost to the air when parked, of what is lost while driving */
  parkedCooling: 0.3,
  /** new lining, mm, and how much more comes through when none is left */
  newPadMm: 11,
  barePadFactor: 1.6,
} as const;

/** How much of the rotor's rise comes through pads of this thickness, beside new ones; 1 to 1.6. */
export function padFactor(thicknessMm: number): number {
  const left = Math.min(Math.max(thicknessMm / CALIPER.newPadMm, 0), 1);
  return 1 + (CALIPER.barePadFactor - 1) * (1 - left);
}

/**
 * The caliper's rise above the air at each instant if it followed the rotor alone, K: a delay of first order. Exact for a rotor that is
 * straight between the instants. Never throws.
 *
 * @see first-order lag, textbook of control
 */
export function followRotor(timeS: ArrayLike<number>, rotorC: ArrayLike<number>, ambientC: number): Float64Array {
  const rise = new Float64Array(timeS.length);
  for (let at = 1; at < timeS.length; at += 1) {
    const dt = (timeS[at] ?? 0) - (timeS[at - 1] ?? 0);
    const [from, to] = [(rotorC[at - 1] ?? 0) - ambientC, (rotorC[at] ?? 0) - ambientC];
    const slope = dt > 0 ? (to - from) / dt : 0;
    const fall = Math.exp(-dt / CALIPER.followsS);
    const lag = slope * CALIPER.followsS;
    rise[at] = to - lag + ((rise[at - 1] ?? 0) - from + lag) * fall;
  }
  return rise;
}

/** One lap's margin: K between what boils or fades and what gets hot; the middle and the band of 90 %. */
export interface MarginBand {
  low: number;
  middle: number;
  high: number;
}

/** What the margins are worked out from, per lap. */
export interface LapHeat {
  /** rise above the air, K, as judging has it: of the fluid and of the rotor's peak */
  fluidRiseK: number;
  rotorRiseK: number;
}

/** What is uncertain, as standard deviations; the rise and the share are half of what judging takes (k = 2). */
export const SPREAD = {
  /** of every rise, as a share: mass, cooling, deceleration, the driver */
  rise: 0.075,
  /** of the share that reaches the fluid, as a part of it: 0.03 of 0.2 at k = 2 */
  fluidShare: 0.075,
  /** of the air, K */
  airK: 3,
  /** of a label's boiling points, K */
  pointK: 3,
  /** of the end of a pad's range, K */
  padK: 25,
} as const;

/** The water a fluid takes up in a year, % of mass, for one draw: 1 to 3, most often 1.5 (common practice). */
const waterOf = (uniform: number): number => {
  // triangular from 1 to 3 with the top at 1.5
  const at = (1.5 - 1) / (3 - 1);
  return uniform < at ? 1 + Math.sqrt(uniform * 2 * 0.5) : 3 - Math.sqrt((1 - uniform) * 2 * 1.5);
};

export interface MarginInput {
  laps: readonly LapHeat[];
  ambientC: number;
  fluid: FluidPoints;
  /** days since the flush; `undefined`: not known, so the wet point counts */
  ageDays: number | undefined;
  /** end of the pads' range, °C; `undefined`: not known */
  padHighC: number | undefined;
}

const DRAWS = 2000;

/**
 * Margins of fluid and pads per lap with a band of 90 %, by drawing what is uncertain 2,000 times from a fixed seed. K. The middle is
 * what judging takes. Pure; never throws.
 *
 * @see Monte Carlo, JCGM 101; the spreads are common practice, `SPREAD`
 */
export function marginsOf({ laps, ambientC, fluid, ageDays, padHighC }: MarginInput): {
  fluid: MarginBand[];
  pads: MarginBand[] | undefined;
} {
  const random = openRandom(20_260_601);
  const draws = Array.from({ length: DRAWS }, () => {
    const rise = Math.exp(random.normal() * SPREAD.rise);
    const fluidRise = rise * Math.exp(random.normal() * SPREAD.fluidShare);
    const airC = ambientC + random.normal() * SPREAD.airK;
    const percent = waterOf(random.uniform());
    const boils = ageDays === undefined ? fluid.wetC : boilingPointAtAge(fluid, ageDays, percent);
    const padC = (padHighC ?? 0) + random.normal() * SPREAD.padK;
    return { rise, fluidRise, airC, boilsC: boils + random.normal() * SPREAD.pointK, padC };
  });
  const band = (margin: (draw: (typeof draws)[number], lap: LapHeat) => number) =>
    laps.map((lap): MarginBand => {
      const sorted = Float64Array.from(draws, (draw) => margin(draw, lap)).sort();
      const at = (share: number) => sorted[Math.floor(share * (DRAWS - 1))] ?? Number.NaN;
      return { low: at(0.05), middle: at(0.5), high: at(0.95) };
    });
  return {
    fluid: band(({ boilsC, airC, fluidRise }, { fluidRiseK }) => boilsC - airC - fluidRiseK * fluidRise),
    pads:
      padHighC === undefined
        ? undefined
        : band(({ padC, airC, rise }, { rotorRiseK }) => padC - airC - rotorRiseK * rise),
  };
}
