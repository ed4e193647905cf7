import { signal } from '@preact/signals';
import {
  convert,
  convertDifference,
  dimensionOf,
  formatQuantity,
  isUnit,
  parseUnit,
  roundTo,
  type Unit,
} from '../../domain/quantity.ts';

/** What a person may choose to read and type in, by what is measured; the first is what we keep. */
export const UNIT_CHOICES = {
  length: ['mm', '1/32in'],
  temperature: ['°C', '°F'],
  pressure: ['kPa', 'bar', 'psi'],
  torque: ['N·m', 'lbf·ft'],
} as const satisfies Record<string, readonly Unit[]>;

export type UnitKind = keyof typeof UNIT_CHOICES;
export const UNIT_KINDS = Object.keys(UNIT_CHOICES) as UnitKind[];
export type ChosenUnits = Readonly<Record<UnitKind, Unit>>;

const KEPT = 'gridworthy.units';
/** Beyond it nobody counts in 1/32 in. */
const LARGEST_IN_32NDS_MM = 60;
/** 0.001 mm is 0.00004 in. */
const MOST_DECIMALS = 6;

/** Absent outside of a browser. */
const { localStorage: storage } = globalThis as {
  localStorage?: { getItem(key: string): string | null; setItem(key: string, value: string): void };
};

function readChosen(): ChosenUnits {
  let kept: unknown;
  try {
    kept = JSON.parse(storage?.getItem(KEPT) ?? 'null');
  } catch {
    // Not ours, or storage is closed: the metric units stand.
  }
  const known = (typeof kept === 'object' && kept !== null ? kept : {}) as Record<string, unknown>;
  const of = (kind: UnitKind): Unit => UNIT_CHOICES[kind].find((unit) => unit === known[kind]) ?? UNIT_CHOICES[kind][0];
  return { length: of('length'), temperature: of('temperature'), pressure: of('pressure'), torque: of('torque') };
}

/** The units of this device. */
export const chosenUnits = signal<ChosenUnits>(readChosen());

export function chooseUnit(kind: UnitKind, unit: Unit): void {
  chosenUnits.value = { ...chosenUnits.value, [kind]: unit };
  storage?.setItem(KEPT, JSON.stringify(chosenUnits.value));
}

/** What kind of choice a unit falls under; undefined where there is none. */
export function kindOfUnit(unit: Unit): UnitKind | undefined {
  // Lengths in metres (a distance to a microphone) are nobody's thirty-seconds of an inch.
  if (dimensionOf(unit) === 'length') return unit === 'mm' || unit === '1/32in' || unit === 'in' ? 'length' : undefined;
  return UNIT_KINDS.find((kind) => dimensionOf(UNIT_CHOICES[kind][0]) === dimensionOf(unit));
}

/**
 * The unit in which to show values of a unit.
 *
 * @param largest the largest value to be shown, in `unit`: large lengths are whole inches
 */
export function shownUnit(unit: Unit, largest = 0, chosen: ChosenUnits = chosenUnits.value): Unit {
  const kind = kindOfUnit(unit);
  if (kind === undefined) return unit;
  const wanted = chosen[kind];
  if (wanted !== '1/32in') return wanted;
  return Math.abs(convert(largest, unit, 'mm') ?? 0) > LARGEST_IN_32NDS_MM ? 'in' : wanted;
}

/**
 * The value in another unit with the fewest decimals that still give exactly the value back, rounded as the item is:
 * what is shown is what is judged (1.6 mm is 2/32 in, and 2/32 in is judged as 1.6 mm).
 *
 * @param of `decimals` kept in `from`; `difference`: 5 °C of spread are 9 °F
 */
export function convertShown(
  value: number,
  from: Unit,
  to: Unit,
  of: { decimals: number; difference?: boolean },
): number {
  if (from === to) return value;
  const turn = of.difference === true ? convertDifference : convert;
  const exact = turn(value, from, to);
  if (exact === undefined) return value;
  const kept = roundTo(value, of.decimals);
  for (let decimals = 0; decimals <= MOST_DECIMALS; decimals += 1) {
    const shown = roundTo(exact, decimals);
    if (roundTo(turn(shown, to, from) ?? Number.NaN, of.decimals) === kept) return shown;
  }
  return roundTo(exact, MOST_DECIMALS);
}

/** How many decimals a number is written with. */
export const decimalsOf = (value: number): number => /\.(\d+)$/.exec(String(value))?.[1]?.length ?? 0;

/** A number as this language writes it; no thousands separators, which read as decimals elsewhere. */
export function showNumber(value: number, language: string): string {
  return new Intl.NumberFormat(language, { maximumFractionDigits: 8, useGrouping: false }).format(value);
}

/** The sign of a unit behind a number: ` mm`, `/32 in`, `°`, or nothing. */
export const suffixOf = (unit: Unit): string => formatQuantity(0, unit).slice(1);

/** A value with its unit: `5.5 mm`, `5/32 in`; in German `5,5 mm`. */
export function showQuantity(value: number, unit: Unit, language: string): string {
  return `${showNumber(value, language)}${suffixOf(unit)}`;
}

const FRACTION = /^([+-]?)(?:(\d+) +)?(\d+)\/(\d+)(?=$|[^\d])/;
const PLAIN = /^[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)/;

/** A number or a fraction at the beginning of a text, and what follows it. */
function readStart(text: string): { value: number; isFraction: boolean; rest: string } | undefined {
  const fraction = FRACTION.exec(text);
  if (fraction !== null) {
    const [all, sign, whole = '0', over = '0', under = '0'] = fraction;
    if (Number(under) === 0) return undefined;
    const value = (Number(whole) + Number(over) / Number(under)) * (sign === '-' ? -1 : 1);
    return { value, isFraction: true, rest: text.slice(all.length) };
  }
  const plain = PLAIN.exec(text)?.[0];
  if (plain === undefined) return undefined;
  return { value: Number(plain.replace(',', '.')), isFraction: false, rest: text.slice(plain.length) };
}

/** The unit that is meant by what stands behind a number; undefined where it is none. */
function readSuffix(rest: string): Unit | undefined {
  const said = rest.trim();
  if (/^(["″”]|''|inch(es)?|zoll)$/i.test(said)) return 'in';
  return parseUnit(said) ?? parseUnit(said.toLowerCase());
}

/**
 * What people type for a value: `5,2`, `8mm`, `32 psi`, `1/2`, `5/32"`. Without a unit it is in the one that is shown; a
 * fraction of a length is one of an inch, and of millimetres only with its sign.
 *
 * @param shown the unit beside the field
 * @returns undefined for what is none, also for a unit of another kind
 */
export function readQuantity(text: string, shown: Unit): { value: number; unit: Unit } | undefined {
  const start = readStart(text.trim().replace(/[\u2212\u2013]/g, '-'));
  if (start === undefined) return undefined;
  const { value, isFraction, rest } = start;
  if (rest.trim() !== '') {
    const unit = readSuffix(rest);
    return unit === undefined || dimensionOf(unit) !== dimensionOf(shown) ? undefined : { value, unit };
  }
  if (!isFraction || dimensionOf(shown) !== 'length') return { value, unit: shown };
  return shown === 'mm' ? undefined : { value, unit: 'in' };
}

/** A unit that came as text; undefined when we do not know it. */
export const asUnit = (text: string | undefined): Unit | undefined =>
  text !== undefined && isUnit(text) ? text : undefined;
