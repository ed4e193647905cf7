export type Dimension =
  | 'length'
  | 'speed'
  | 'pressure'
  | 'mass'
  | 'force'
  | 'torque'
  | 'temperature'
  | 'time'
  | 'calendar'
  | 'angle'
  | 'sound-level'
  | 'voltage'
  | 'resistance'
  | 'resistance-per-voltage'
  | 'volume'
  | 'ratio'
  | 'turns';

interface UnitDefinition {
  dimension: Dimension;
  /** size of one unit in the dimension's base; chosen so that exact definitions stay exact in floating point */
  factor: number;
  /** added to a value, in its own unit, before scaling: moves the unit's zero to the base's zero */
  offset?: number;
}

const unit = (dimension: Dimension, factor: number, offset?: number): UnitDefinition =>
  offset === undefined ? { dimension, factor } : { dimension, factor, offset };

/**
 * Every unit we know, by its canonical spelling. Bases: mm, m/h, Pa, g, N, N·m, 1/9 °C, s, month, deg, dB(A), V, Ω,
 * Ω/V, l, %, turns. Months and years are a dimension of their own: a month has no fixed number of days.
 * Factors: NIST SP 811 appendix B (international mile, avoirdupois pound, pound-force at standard gravity).
 */
export const UNITS = {
  mm: unit('length', 1),
  cm: unit('length', 10),
  m: unit('length', 1000),
  in: unit('length', 25.4),
  ft: unit('length', 304.8),
  '1/32in': unit('length', 0.79375),
  km: unit('length', 1_000_000),
  mi: unit('length', 1_609_344),
  'km/h': unit('speed', 1000),
  mph: unit('speed', 1609.344),
  'm/s': unit('speed', 3600),
  kPa: unit('pressure', 1000),
  bar: unit('pressure', 100_000),
  psi: unit('pressure', 6894.757293168361),
  MPa: unit('pressure', 1_000_000),
  g: unit('mass', 1),
  kg: unit('mass', 1000),
  lb: unit('mass', 453.59237),
  N: unit('force', 1),
  lbf: unit('force', 4.4482216152605),
  N·m: unit('torque', 1),
  lbf·ft: unit('torque', 1.3558179483314003),
  lbf·in: unit('torque', 0.1129848290276167),
  kgf·m: unit('torque', 9.80665),
  '°C': unit('temperature', 9),
  '°F': unit('temperature', 5, -32),
  K: unit('temperature', 9, -273.15),
  s: unit('time', 1),
  min: unit('time', 60),
  h: unit('time', 3600),
  day: unit('time', 86_400),
  month: unit('calendar', 1),
  year: unit('calendar', 12),
  deg: unit('angle', 1),
  'dB(A)': unit('sound-level', 1),
  V: unit('voltage', 1),
  Ω: unit('resistance', 1),
  kΩ: unit('resistance', 1000),
  MΩ: unit('resistance', 1_000_000),
  'Ω/V': unit('resistance-per-voltage', 1),
  'kΩ/V': unit('resistance-per-voltage', 1000),
  l: unit('volume', 1),
  '%': unit('ratio', 1),
  '1': unit('ratio', 100),
  turns: unit('turns', 1),
} as const satisfies Record<string, UnitDefinition>;

export type Unit = keyof typeof UNITS;

/** Spellings people type, by the canonical unit. Case is kept apart on purpose: `mPa` is not `MPa`. */
const ALIASES: Readonly<Partial<Record<Unit, readonly string[]>>> = {
  mm: ['millimetre', 'millimetres', 'millimeter', 'millimeters'],
  in: ['inch', 'inches', '"', '″', 'In', 'IN'],
  ft: ['foot', 'feet'],
  '1/32in': ['32nds', '/32in', '1/32"', '1/32inch'],
  mi: ['mile', 'miles'],
  'km/h': ['kmh', 'kph', 'km/hr', 'kmph'],
  mph: ['mi/h', 'MPH'],
  'm/s': ['mps'],
  kPa: ['kpa', 'KPa', 'KPA'],
  bar: ['Bar', 'BAR'],
  psi: ['PSI', 'lbf/in2', 'lbf/in^2'],
  g: ['gram', 'grams'],
  kg: ['kilogram', 'kilograms', 'Kg', 'KG'],
  lb: ['lbs', 'pound', 'pounds', 'LB'],
  N·m: ['Nm', 'N.m', 'N*m', 'N-m'],
  lbf·ft: ['lbf.ft', 'lbf*ft', 'lbfft', 'lbft', 'lb-ft', 'lb.ft', 'lbf-ft', 'ft-lb', 'ft-lbf', 'ft.lbf', 'ftlb'],
  lbf·in: ['lbf.in', 'lbf*in', 'lbfin', 'lbin', 'lb-in', 'lb.in', 'lbf-in', 'in-lb', 'in-lbf', 'in.lbf', 'inlb'],
  kgf·m: ['kgf.m', 'kgf*m', 'kgfm', 'kgf-m', 'kgm', 'm-kgf'],
  '°C': ['C', 'degC', 'celsius', 'Celsius'],
  '°F': ['F', 'degF', 'fahrenheit', 'Fahrenheit'],
  K: ['kelvin'],
  s: ['sec', 'second', 'seconds'],
  min: ['minute', 'minutes'],
  h: ['hr', 'hour', 'hours'],
  day: ['d', 'days'],
  month: ['months'],
  year: ['years', 'yr'],
  deg: ['°', 'degree', 'degrees'],
  'dB(A)': ['dBA', 'dba', 'db(a)', 'dBa'],
  V: ['volt', 'volts'],
  Ω: ['ohm', 'ohms', 'Ohm'],
  kΩ: ['kohm', 'kOhm'],
  MΩ: ['Mohm', 'MOhm'],
  'Ω/V': ['ohm/V', 'ohms/V', 'Ohm/V'],
  'kΩ/V': ['kohm/V', 'kohms/V', 'kOhm/V'],
  l: ['L', 'litre', 'litres', 'liter', 'liters'],
  '%': ['percent'],
  '1': ['fraction', 'ratio'],
  turns: ['turn'],
};

const UNIT_BY_SPELLING: ReadonlyMap<string, Unit> = new Map(
  Object.keys(UNITS).flatMap((name) => {
    // Object.keys loses the key type; the keys of UNITS are units by definition
    const canonical = name as Unit;
    return [canonical, ...(ALIASES[canonical] ?? [])].map((spelling) => [spelling, canonical] as const);
  }),
);

/** Whether the text is a unit in its canonical spelling. */
export function isUnit(text: string): text is Unit {
  return Object.hasOwn(UNITS, text);
}

/**
 * The unit meant by a text as people type it: canonical, or an ASCII alias such as `Nm`, `degC`, `ohm/V`, `kmh`.
 * Spaces are ignored; compatibility characters (`℃`, the ohm sign, other dots) are folded. `undefined`: not a unit.
 */
export function parseUnit(text: string): Unit | undefined {
  if (text.length > 24) return undefined;
  const folded = text
    .normalize('NFKC')
    .replace(/[\s\u00a0]+/gu, '')
    .replace(/[⋅∙•]/gu, '·');
  return UNIT_BY_SPELLING.get(folded);
}

/** The dimension of a unit; only units of one dimension convert into each other. */
export function dimensionOf(of: Unit): Dimension {
  return UNITS[of].dimension;
}

const definition = (of: Unit): UnitDefinition => UNITS[of];

/**
 * Converts a value (a temperature as a point on the scale: 0 °C is 32 °F).
 *
 * @returns `undefined` when the units measure different things
 * @see NIST Special Publication 811, appendix B
 */
export function convert(value: number, from: Unit, to: Unit): number | undefined {
  if (from === to) return value;
  const source = definition(from);
  const target = definition(to);
  if (source.dimension !== target.dimension) return undefined;
  return ((value + (source.offset ?? 0)) * source.factor) / target.factor - (target.offset ?? 0);
}

/**
 * Converts a difference: 5 °C of spread are 9 °F of spread, not 41 °F. The same as `convert` for every unit but
 * temperatures. `undefined` when the units measure different things.
 */
export function convertDifference(value: number, from: Unit, to: Unit): number | undefined {
  if (from === to) return value;
  const source = definition(from);
  const target = definition(to);
  return source.dimension === target.dimension ? (value * source.factor) / target.factor : undefined;
}

/**
 * Rounds half away from zero to a number of decimals (0 to 15), in decimal: 1.005 to two decimals is 1.01. Noise of
 * a conversion beyond 15 significant digits is dropped first, and `-0` becomes `0`.
 */
export function roundTo(value: number, decimals: number): number {
  if (!Number.isFinite(value)) return value;
  const [mantissa = '0', exponent = '0'] = Math.abs(value).toExponential(14).split('e');
  const shifted = Math.round(Number(`${mantissa}e${Number(exponent) + decimals}`));
  const size = Number(`${shifted}e${-decimals}`);
  // a shifted value of 1e21 and more prints with an exponent of its own: such a number has no decimals to round
  if (Number.isNaN(size)) return value;
  return value < 0 && size !== 0 ? -size : size;
}

const UNIT_SUFFIX: Partial<Record<Unit, string>> = { '1': '', deg: '°', '1/32in': '/32 in' };

/** A value with its unit as people read it: `5.5 mm`, `311 °F`, `-1.5°`, `0.5`, `5/32 in`. At most 12 digits. */
export function formatQuantity(value: number, of: Unit): string {
  return `${Number(value.toPrecision(12))}${UNIT_SUFFIX[of] ?? ` ${of}`}`;
}

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
