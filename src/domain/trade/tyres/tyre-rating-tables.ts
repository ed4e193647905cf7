/**
 * Load per tyre in kg by load index, from index 60 on, in order.
 *
 * Source: the table of ISO 4000-1 and UNECE R30 annex 4, read on public charts that agree (secondary). Single charts
 * have misprints: 61 as 265, 62 as 165, 83 as 478, 103 as 857, 105 as 924.
 */
// biome-ignore format: ten to a line
const LOADS_FROM_60: readonly number[] = [
  250, 257, 265, 272, 280, 290, 300, 307, 315, 325,
  335, 345, 355, 365, 375, 387, 400, 412, 425, 437,
  450, 462, 475, 487, 500, 515, 530, 545, 560, 580,
  600, 615, 630, 650, 670, 690, 710, 730, 750, 775,
  800, 825, 850, 875, 900, 925, 950, 975, 1000, 1030,
  1060, 1090, 1120, 1150, 1180, 1215, 1250, 1285, 1320, 1360,
  1400, 1450, 1500, 1550,
];

/**
 * kg that one tyre of a load index carries; `undefined` for an index outside 60 to 123. Never throws. Source: the load
 * index table `LOADS_FROM_60`.
 */
export function loadOfIndex(loadIndex: number): number | undefined {
  return Number.isInteger(loadIndex) ? LOADS_FROM_60[loadIndex - 60] : undefined;
}

/**
 * Speed symbol to km/h. The letters are not in the order of the alphabet: H is between U and V. Secondary sources that
 * agree.
 */
const SPEEDS_KMH: Readonly<Record<string, number>> = {
  L: 120,
  M: 130,
  N: 140,
  P: 150,
  Q: 160,
  R: 170,
  S: 180,
  T: 190,
  U: 200,
  H: 210,
  V: 240,
  W: 270,
  Y: 300,
  // above 240: how far above, the symbol does not say
  ZR: 240,
};

/**
 * km/h of a speed symbol, `240` for `ZR` (more, but it does not say how much); `undefined` when unknown. Never throws.
 * Source: the table of speed symbols `SPEEDS_KMH`.
 */
export function speedOfSymbol(symbol: string): number | undefined {
  return Object.hasOwn(SPEEDS_KMH, symbol) ? SPEEDS_KMH[symbol] : undefined;
}

/**
 * Negative, 0 or positive as symbol `a` is for less, the same or more speed than `b`; `undefined` when one is unknown.
 * Compares km/h. Never throws. Source: `speedOfSymbol`.
 */
export function compareSpeedSymbols(a: string, b: string): number | undefined {
  const [first, second] = [speedOfSymbol(a), speedOfSymbol(b)];
  return first === undefined || second === undefined ? undefined : first - second;
}

/** Full load up to `fullUpToKmh`, then falling in a straight line to `percentAtEnd` at `endKmh`. */
interface SpeedDerating {
  fullUpToKmh: number;
  endKmh: number;
  percentAtEnd: number;
}

/** Speed in km/h up to which a Y tyre carries its full load; from memory. */
export const Y_FULL_UP_TO_KMH = 270;

/**
 * How much less a tyre carries at speed. V, W and ZR: secondary source on load capacity; Y: 85 % at 300 km/h read on one
 * page (secondary). Other symbols carry their load up to their speed.
 */
const DERATING: Readonly<Partial<Record<string, SpeedDerating>>> = {
  V: { fullUpToKmh: 210, endKmh: 240, percentAtEnd: 91 },
  W: { fullUpToKmh: 240, endKmh: 270, percentAtEnd: 85 },
  ZR: { fullUpToKmh: 240, endKmh: 270, percentAtEnd: 85 },
  Y: { fullUpToKmh: Y_FULL_UP_TO_KMH, endKmh: 300, percentAtEnd: 85 },
};

/**
 * Share of the load in % that a tyre with this symbol carries at a speed in km/h; not beyond the end of the line.
 * Never throws. Source: `DERATING` (secondary).
 *
 * @param yFullUpToKmh where the line of a Y begins, km/h below 300
 */
export function loadPercentAtSpeed(symbol: string, speedKmh: number, yFullUpToKmh = Y_FULL_UP_TO_KMH): number {
  const line = DERATING[symbol];
  const fullUpToKmh = symbol === 'Y' ? yFullUpToKmh : line?.fullUpToKmh;
  if (line === undefined || fullUpToKmh === undefined || speedKmh <= fullUpToKmh) return 100;
  const into = Math.min(1, (speedKmh - fullUpToKmh) / (line.endKmh - fullUpToKmh));
  return 100 - (100 - line.percentAtEnd) * into;
}
