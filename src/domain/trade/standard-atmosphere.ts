import { z } from 'zod';
import { roundTo } from '../quantity.ts';
import { type Assumption, measure, notComputable } from './calculation.ts';

/** The standard atmosphere at sea level, kPa. */
export const SEA_LEVEL_KPA = 101.325;
/** 0 °C in kelvin. */
export const ZERO_CELSIUS_K = 273.15;

/**
 * Air pressure in kPa at an altitude in m (−500 to 5000) in the standard atmosphere: 101.325·(1 − 2.2557e-5·h)^5.2559.
 * The day's weather moves it by about 3 kPa either way. Never throws.
 *
 * @see US Standard Atmosphere 1976: formula 14.696·(1 − 6.8754e-6·ft)^5.2559 as quoted in handbooks (secondary)
 */
export function standardAtmosphereKpa(altitudeM: number): number {
  return SEA_LEVEL_KPA * (1 - (6.8754e-6 / 0.3048) * altitudeM) ** 5.2559;
}

/** The two ways to say how much air presses: input fields for computations on gauge pressures. */
export const atmosphereFields = {
  atmosphereKpa: measure('kPa', 'Air pressure at the place, absolute and not reduced to sea level', {
    min: 50,
    max: 110,
  }).optional(),
  altitudeM: measure('m', 'Altitude of the place, in place of the air pressure', { min: -500, max: 5000 }).optional(),
};
const fields = z.strictObject(atmosphereFields);

/**
 * The air pressure in kPa that an input stands for, with the assumptions made: as given, by altitude, or sea level.
 *
 * @throws NotComputable at `/altitudeM` when both are given
 * @see `standardAtmosphereKpa`
 */
export function readAtmosphere(asked: z.output<typeof fields>): { kpa: number; assumptions: Assumption[] } {
  const { atmosphereKpa, altitudeM } = asked;
  if (atmosphereKpa !== undefined && altitudeM !== undefined) {
    throw notComputable('/altitudeM', 'given-twice', 'Give the air pressure or the altitude, not both.');
  }
  if (atmosphereKpa !== undefined) return { kpa: atmosphereKpa, assumptions: [] };
  const kpa = standardAtmosphereKpa(altitudeM ?? 0);
  const where = altitudeM === undefined ? 'at sea level' : `at ${altitudeM} m`;
  const value = `${roundTo(kpa, 2)} kPa, the standard atmosphere ${where}`;
  return { kpa, assumptions: [{ name: 'atmosphereKpa', value, standing: 'secondary' }] };
}
