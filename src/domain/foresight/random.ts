/** Random numbers that are the same for the same seed: a forecast is the same whoever asks, and can be checked. */
export interface Random {
  /** from 0 to 1, 1 excluded */
  uniform(): number;
  /** standard normal */
  normal(): number;
  /** gamma with mean `shape` and unit scale; the shape is above 0 */
  gamma(shape: number): number;
  /** a whole number from 0 to `count` − 1 */
  below(count: number): number;
}

/**
 * Opens a stream of random numbers.
 *
 * @param seed a whole number; streams of neighbouring seeds have nothing to do with one another
 * @see mulberry32 (public domain); Box and Muller 1958 for the normal; Marsaglia and Tsang 2000 for the gamma; from memory
 */
export function openRandom(seed: number): Random {
  let state = Math.imul(seed ^ 0x9e37_79b9, 0x85eb_ca6b) >>> 0;
  const uniform = () => {
    state = (state + 0x6d2b_79f5) >>> 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4_294_967_296;
  };
  const normal = () => Math.sqrt(-2 * Math.log(1 - uniform())) * Math.cos(2 * Math.PI * uniform());
  const gamma = (shape: number): number => {
    if (shape < 1) return gamma(shape + 1) * (1 - uniform()) ** (1 / shape);
    const d = shape - 1 / 3;
    const c = 1 / Math.sqrt(9 * d);
    for (;;) {
      const x = normal();
      const v = (1 + c * x) ** 3;
      if (v > 0 && Math.log(1 - uniform()) < 0.5 * x * x + d - d * v + d * Math.log(v)) return d * v;
    }
  };
  return { uniform, normal, gamma, below: (count) => Math.floor(uniform() * count) };
}

/** A seed made of numbers, so that each thing that is drawn for has a stream of its own. */
export function seedOf(...parts: readonly number[]): number {
  return parts.reduce((seed, part) => (Math.imul(seed ^ (part | 0), 0x0100_0193) + 0x9e37) >>> 0, 0x811c_9dc5);
}
