import { z } from 'zod';
import { convert, convertDifference, dimensionOf, formatQuantity, parseUnit, type Unit } from '../quantity.ts';

/**
 * How far a value or formula can be trusted.
 *
 * - `published`: the standard or regulation itself was read; `secondary`: read in a quotation, handbook or textbook
 * - `derived`: arithmetic from stated inputs
 * - `from-memory`: not verified; a default that the caller should replace where he knows better
 * - `common-practice`: what the trade does; there is no source
 */
export const STANDINGS = ['published', 'secondary', 'derived', 'from-memory', 'common-practice'] as const;
export type Standing = (typeof STANDINGS)[number];

/** Where a formula, table or limit comes from. */
export interface Source {
  title: string;
  standing: Standing;
}

/** One formula with the numbers put in, so that a reader can check it with a pocket calculator. */
export interface WorkStep {
  /** what is worked out, in words */
  what: string;
  /** in symbols: `p2 = (p1 + pAtm)·T2/T1 − pAtm` */
  formula: string;
  /** the same with numbers and units put in */
  numbers: string;
  /** the number that comes out, with its unit */
  result: string;
}

/** A value that the caller did not state, or a simplification the result depends on. */
export interface Assumption {
  name: string;
  /** the value with its unit, or the simplification in words */
  value: string;
  standing: Standing;
}

/** What a computation gives: the result and everything a reader needs to trust it or not. */
export interface Worked<R> {
  result: R;
  steps: readonly WorkStep[];
  assumptions: readonly Assumption[];
  cautions: readonly string[];
}

/** One place in the input that cannot be right, as an RFC 6901 pointer into it. */
export interface TradeFault {
  pointer: string;
  code: string;
  detail: string;
}

/** Thrown by computations for inputs that are well formed and cannot be: names every place. */
export class NotComputable extends Error {
  readonly faults: readonly TradeFault[];

  constructor(faults: readonly TradeFault[]) {
    super(faults.map((fault) => `${fault.pointer}: ${fault.detail}`).join(' '));
    this.name = 'NotComputable';
    this.faults = faults;
  }
}

/** A `NotComputable` about one place. No units. Never throws. Source: RFC 6901 for the pointer. */
export const notComputable = (pointer: string, code: string, detail: string): NotComputable =>
  new NotComputable([{ pointer, code, detail }]);

/** A computation as the API offers it. */
export interface Calculation<I = unknown, R = unknown> {
  /** path segment, kebab-case */
  name: string;
  title: string;
  summary: string;
  /** the request body; its output is in canonical units */
  input: z.ZodType<I>;
  result: z.ZodType<R>;
  sources: readonly Source[];
  /** a request body that works, for the documentation */
  example: unknown;
  /** @throws NotComputable */
  compute(input: I): Worked<R>;
}

/** Keeps the input and result types together while a definition is written. No units. Never throws. Source: ours. */
export const calculation = <I, R>(definition: Calculation<I, R>): Calculation<I, R> => definition;

interface Bounds {
  min?: number;
  max?: number;
  /** the quantity is a difference: 5 °C are 9 °F */
  difference?: boolean;
}

/** What a form needs of a measured input. */
export interface Measured extends Bounds {
  unit: Unit;
  what: string;
}

const MEASURES = new WeakMap<object, Measured>();

/** What a schema measures where `measure` made it; `undefined` for any other. Bounds are in its unit. Never throws. Source: ours. */
export const measuredBy = (schema: object): Measured | undefined => MEASURES.get(schema);

const ValueWithUnit = z
  .strictObject({
    value: z.number().describe('The number'),
    unit: z.string().max(24).describe('Its unit: any that converts to the one that a bare number has'),
  })
  .meta({ id: 'ValueWithUnit' });

/**
 * A measured input: a bare number in `unit`, or `{value, unit}` in any unit that converts to it. The output is a
 * number in `unit`. Bounds are in `unit` and belong to the range. What does not convert or is out of bounds is an
 * issue of the schema; the function itself never throws. Source: conversion factors of `quantity.ts`.
 */
export function measure(unit: Unit, what: string, bounds: Bounds = {}): z.ZodType<number, number | MeasuredInput> {
  const input = z.union([z.number(), ValueWithUnit]);
  const range = describeBounds(unit, bounds);
  const schema = input
    .transform((raw, context): number => {
      const value = typeof raw === 'number' ? raw : toUnit(raw, unit, bounds.difference === true);
      const fault = typeof value === 'string' ? value : boundsFault(value, unit, bounds);
      if (fault === undefined && typeof value === 'number') return value;
      context.issues.push({ code: 'custom', input: raw, message: fault ?? 'not a number' });
      return z.NEVER;
    })
    .describe(`${what}; ${unit === '1' ? 'a plain number' : unit} where no unit is given${range}`);
  MEASURES.set(schema, { unit, what, ...bounds });
  return schema;
}

export type MeasuredInput = { value: number; unit: string };

function toUnit(raw: MeasuredInput, unit: Unit, difference: boolean): number | string {
  const from = parseUnit(raw.unit);
  if (from === undefined) return `${JSON.stringify(raw.unit)} is not a known unit`;
  const value = (difference ? convertDifference : convert)(raw.value, from, unit);
  return value ?? `${from} (${dimensionOf(from)}) does not convert to ${unit} (${dimensionOf(unit)})`;
}

function boundsFault(value: number, unit: Unit, { min, max }: Bounds): string | undefined {
  if (!Number.isFinite(value)) return 'must be a finite number';
  if (min !== undefined && value < min) return `must be at least ${formatQuantity(min, unit)}`;
  if (max !== undefined && value > max) return `must be at most ${formatQuantity(max, unit)}`;
  return undefined;
}

function describeBounds(unit: Unit, { min, max }: Bounds): string {
  if (min !== undefined && max !== undefined) return `, ${formatQuantity(min, unit)} to ${formatQuantity(max, unit)}`;
  if (min !== undefined) return `, at least ${formatQuantity(min, unit)}`;
  return max === undefined ? '' : `, at most ${formatQuantity(max, unit)}`;
}
