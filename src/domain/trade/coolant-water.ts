import { refuse } from './calculation.ts';
import { SEA_LEVEL_KPA, ZERO_CELSIUS_K } from './standard-atmosphere.ts';

/** Coefficients of the saturation line, region 4 of IAPWS-IF97. */
// biome-ignore format: as the release prints them
const N = [
  0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5, -0.32325550322333e7,
  0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849, 0.65017534844798e3,
] as const;
const KPA_PER_MPA = 1000;
/** What the release covers: 273.15 K to the critical point. */
const RANGE_KPA = { min: 0.611213, max: 22_064 };
const RANGE_C = { min: 0, max: 373.946 };

/**
 * Temperature in °C at which pure water boils under an absolute pressure in kPa (0.612 to 22,064).
 *
 * @throws TradeRefusal `outside-steam-table` at `/absoluteKpa`
 * @see IAPWS R7-97(2012), equation 31, coefficients and check values of table 36 as quoted by open implementations
 *   (secondary)
 */
export function waterBoilingC(absoluteKpa: number): number {
  if (!(absoluteKpa >= RANGE_KPA.min && absoluteKpa <= RANGE_KPA.max)) {
    throw refuse('/absoluteKpa', 'outside-steam-table', `${absoluteKpa} kPa is outside 0.612 to 22,064 kPa.`);
  }
  const beta = (absoluteKpa / KPA_PER_MPA) ** 0.25;
  const e = beta ** 2 + N[2] * beta + N[5];
  const f = N[0] * beta ** 2 + N[3] * beta + N[6];
  const g = N[1] * beta ** 2 + N[4] * beta + N[7];
  const d = (2 * g) / (-f - Math.sqrt(f ** 2 - 4 * e * g));
  return (N[9] + d - Math.sqrt((N[9] + d) ** 2 - 4 * (N[8] + N[9] * d))) / 2 - ZERO_CELSIUS_K;
}

/**
 * Absolute pressure in kPa at which pure water boils at a temperature in °C (0 to 373.946): `waterBoilingC` backwards.
 *
 * @throws TradeRefusal `outside-steam-table` at `/celsius`
 * @see IAPWS R7-97(2012), equation 30 (secondary)
 */
export function waterBoilingKpa(celsius: number): number {
  if (!(celsius >= RANGE_C.min && celsius <= RANGE_C.max)) {
    throw refuse('/celsius', 'outside-steam-table', `${celsius} °C is outside 0 to 373.946 °C.`);
  }
  const kelvin = celsius + ZERO_CELSIUS_K;
  const theta = kelvin + N[8] / (kelvin - N[9]);
  const a = theta ** 2 + N[0] * theta + N[1];
  const b = N[2] * theta ** 2 + N[3] * theta + N[4];
  const c = N[5] * theta ** 2 + N[6] * theta + N[7];
  return KPA_PER_MPA * ((2 * c) / (-b + Math.sqrt(b ** 2 - 4 * a * c))) ** 4;
}

/** Antoine constants of water, log10 of mmHg and °C: 1 to 100 °C, and 99 to 374 °C (secondary). */
const ANTOINE = {
  low: { a: 8.07131, b: 1730.63, c: 233.426 },
  high: { a: 8.14019, b: 1810.94, c: 244.485 },
} as const;

/** mmHg in a kPa: 760 are 101.325. A torr is a mmHg; it is not 1.333 of them. */
export const MMHG_PER_KPA = 760 / SEA_LEVEL_KPA;

/**
 * Boiling point of water in °C by the Antoine equation, for comparison: `B/(A − log10 p) − C`, p in mmHg above 0. The
 * two sets do not meet: at 760 mmHg they differ by 0.16 °C. Never throws.
 *
 * @param range `low` up to 100 °C, `high` from there
 * @see Antoine constants of water on a public engineering page (secondary)
 */
export function antoineBoilingC(mmHg: number, range: keyof typeof ANTOINE): number {
  const { a, b, c } = ANTOINE[range];
  return b / (a - Math.log10(mmHg)) - c;
}
