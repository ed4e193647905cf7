/**
 * Decision rules with measurement uncertainty. Names and formulas follow JCGM 106:2012 (Evaluation of measurement data: the
 * role of measurement uncertainty in conformity assessment); its worked examples are in `tests/published`.
 */

/**
 * The standard normal distribution function, by formula 7.1.26 of Abramowitz and Stegun, Handbook of Mathematical Functions:
 * error of the error function at most 1.5e-7.
 */
export function normalProbability(z: number): number {
  const x = Math.abs(z) / Math.SQRT2;
  const t = 1 / (1 + 0.327_591_1 * x);
  const poly =
    ((((1.061_405_429 * t - 1.453_152_027) * t + 1.421_413_741) * t - 0.284_496_736) * t + 0.254_829_592) * t;
  const tail = (poly * Math.exp(-x * x)) / 2;
  return z < 0 ? tail : 1 - tail;
}

/**
 * Probability that the true value is within the limits, for a reading with a normal distribution of error and no other
 * knowledge of the value (JCGM 106, 7.2 to 7.4). One limit may be absent.
 *
 * @param standard standard uncertainty u, in the unit of the reading; U = 2 u for k = 2
 */
export function conformityProbability(
  reading: number,
  standard: number,
  { atLeast, atMost }: { atLeast?: number | undefined; atMost?: number | undefined },
): number {
  const below = atLeast === undefined ? 0 : normalProbability((atLeast - reading) / standard);
  const above = atMost === undefined ? 0 : normalProbability((reading - atMost) / standard);
  return Math.max(0, 1 - below - above);
}

/** Standard uncertainty of an instrument of which only a maximum permissible error is stated: rectangular, MPE / √3. */
export function standardFromLimitOfError(limitOfError: number): number {
  return limitOfError / Math.sqrt(3);
}
