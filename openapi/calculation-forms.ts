import { z } from 'zod';
import { findItem } from '../src/domain/catalogue/catalogue.ts';
import { measuredBy } from '../src/domain/trade/calculation.ts';
import { CALCULATIONS } from '../src/domain/trade/calculations.ts';
import { parseUnit } from '../src/domain/quantity.ts';

type Json = Record<string, unknown> & { properties?: Record<string, Json>; items?: Json; required?: string[] };

/** One place of a body or result, as a page asks for it or shows it; what is not there does not apply. */
interface Field {
  key: string;
  kind: 'measure' | 'number' | 'text' | 'date' | 'choice' | 'flag' | 'group' | 'list' | 'either';
  /** what it is, in English */
  what?: string;
  unit?: string;
  min?: number;
  max?: number;
  whole?: true;
  difference?: true;
  optional?: true;
  options?: string[];
  /** of a group and of either; a list has one */
  fields?: Field[];
}

/**
 * What the pages ask for each computation and show of its result, from the schemas of its body and result.
 *
 * @returns JSON text: by the name of the computation its form, its result, its example and its title
 */
export function renderCalculationForms(): string {
  const forms = CALCULATIONS.map(({ name, title, summary, input, result, example }) => {
    const form = fieldsOf(schemaOf(input, 'input'));
    return [name, { title, summary, form, result: fieldsOf(schemaOf(result, 'output')), example }] as const;
  });
  return `${JSON.stringify(Object.fromEntries(forms))}\n`;
}

function schemaOf(schema: z.ZodType, io: 'input' | 'output'): Json {
  return z.toJSONSchema(schema, {
    io,
    reused: 'inline',
    override: ({ zodSchema, jsonSchema }) => {
      const measured = measuredBy(zodSchema);
      if (measured !== undefined) Object.assign(jsonSchema, { measured });
    },
  }) as Json;
}

function fieldsOf(schema: Json): Field[] {
  const needed = new Set(schema.required);
  return Object.entries(schema.properties ?? {}).flatMap(([key, property]) =>
    FOR_PROGRAMS.has(key)
      ? []
      : [
          {
            ...fieldOf(key, property),
            ...(needed.has(key) ? {} : { optional: true as const }),
          },
        ],
  );
}

function fieldOf(key: string, schema: Json): Field {
  const measured = schema['measured'] as ReturnType<typeof measuredBy>;
  if (measured !== undefined) {
    const { unit, what, min, max, difference } = measured;
    return {
      key,
      kind: 'measure',
      what,
      unit,
      ...(min !== undefined && { min }),
      ...(max !== undefined && { max }),
      ...(difference === true && { difference }),
    };
  }
  const known = (schema['anyOf'] as Json[] | undefined)?.filter(({ type }) => type !== 'null');
  if (known?.length === 1) return { ...fieldOf(key, known[0] as Json), ...said(schema) };
  const kind = kindOf(schema);
  return { key, ...(kind.kind === 'number' && unitInName(key)), ...said(schema), ...kind };
}

/** Units that names of places end in, where their sentence says none. */
const NAMED_UNITS = { C: '°C', Mm: 'mm', Kg: 'kg', Kpa: 'kPa', Minutes: 'min', K: 'K' } as const;

function unitInName(key: string): Pick<Field, 'unit'> {
  const found = Object.entries(NAMED_UNITS).find(([end]) => key.length > end.length && key.endsWith(end));
  return found === undefined ? {} : { unit: found[1] };
}

/** What programs read of a result, and no person. */
const FOR_PROGRAMS: ReadonlySet<string> = new Set(['series', 'convergence', 'balanceError']);

/** The sentence of a schema without what only programs ask; a unit at its end, as in `Lap time, s`, stands beside the value instead. */
function said({ description }: Json): Pick<Field, 'what' | 'unit'> {
  if (typeof description !== 'string') return {};
  return withUnit(description.replaceAll(/; (?:null|absent)\b[^;]*/g, ''));
}

function withUnit(description: string): Pick<Field, 'what' | 'unit'> {
  const [, what = description, unit, rest = ''] = /^(.*?), ([^\s,;]+)((?:;.*)?)$/.exec(description) ?? [];
  const known = unit === undefined ? undefined : (parseUnit(unit) ?? OTHER_UNITS.find((one) => one === unit));
  if (known === undefined) return { what: description };
  return { what: `${what}${rest}`, unit: known };
}

/** Units of results, and of inputs that have one only. */
const OTHER_UNITS = ['MJ', 'kJ', 'W/kg', 'm²', 'kg/m³', 'mm²/s', 'mPa·s', 'dB', 'cal/cm²', 'W/(m²·K)', 'J/(kg·K)'];

function kindOf(schema: Json): Omit<Field, 'key'> {
  const either = (schema['oneOf'] ?? schema['anyOf']) as Json[] | undefined;
  if (either !== undefined) {
    return { kind: 'either', fields: either.map((one) => ({ key: '', kind: 'group', fields: fieldsOf(one) })) };
  }
  if (schema['type'] === 'object') return { kind: 'group', fields: fieldsOf(schema) };
  if (schema['type'] === 'array') return listOf(schema);
  return singleOf(schema);
}

function listOf(schema: Json): Omit<Field, 'key'> {
  const options = optionsIn(schema);
  const item: Field = options === undefined ? fieldOf('', schema.items ?? {}) : { key: '', kind: 'choice', options };
  return { kind: 'list', ...countsOf(schema), fields: [item] };
}

function singleOf(schema: Json): Omit<Field, 'key'> {
  const {
    type,
    enum: several,
    const: one,
    format,
  } = schema as { type: unknown; enum?: string[]; const?: string; format?: string };
  const options = several ?? (one === undefined ? undefined : [one]);
  if (options !== undefined) return { kind: 'choice', options };
  if (isOf(type, 'boolean')) return { kind: 'flag' };
  if (isOf(type, 'string')) return { kind: format === 'date' ? 'date' : 'text' };
  return { kind: 'number', ...rangeOf(schema), ...(type === 'integer' && { whole: true as const }) };
}

/** A result may be null too. */
const isOf = (type: unknown, of: string): boolean => type === of || (Array.isArray(type) && type.includes(of));

/** Of a list of options of a catalogue item, as its description says. */
function optionsIn({ description }: Json): string[] | undefined {
  const [, key = ''] = /options of ([\w.-]+)/.exec(typeof description === 'string' ? description : '') ?? [];
  const type = findItem(key)?.answer;
  return type?.kind === 'choices' ? [...type.options] : undefined;
}

function countsOf({ minItems, maxItems }: Json): Pick<Field, 'min' | 'max'> {
  return {
    ...(typeof minItems === 'number' && { min: minItems }),
    ...(typeof maxItems === 'number' && { max: maxItems }),
  };
}

function rangeOf({ minimum, maximum }: Json): Pick<Field, 'min' | 'max'> {
  const ends = { min: minimum, max: maximum };
  return Object.fromEntries(
    Object.entries(ends).filter(([, end]) => typeof end === 'number' && Math.abs(end) < Number.MAX_SAFE_INTEGER),
  );
}
