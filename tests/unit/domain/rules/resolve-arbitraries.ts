import fc from 'fast-check';
import { convert, dimensionOf, parseUnit, UNITS, type Unit } from '../../../../src/domain/quantity.ts';
import { arbRules } from './rules-arbitraries.ts';

type Json = Record<string, unknown>;
interface Stated {
  value: unknown;
  unit?: string;
}

/** Rules and the parameters they use, as JSON. */
export interface PartialRules {
  rules: Json[];
  parameters: Json;
}

const NUMBERS = ['atLeast', 'atMost', 'from', 'to', 'addYears'];
const isStated = (value: unknown): value is Stated => typeof value === 'object' && value !== null && 'value' in value;

/** The same rules with every number, list and quantity of them as a parameter of its own. */
export function liftParameters(rules: readonly Json[]): PartialRules {
  const parameters: Json = {};
  const lift = ({ value, unit }: Stated): string => {
    const name = `p${Object.keys(parameters).length}`;
    parameters[name] = { value, meaning: 'What it limits', ...(unit !== undefined && { unit }) };
    return name;
  };
  const liftPart = ([key, value]: [string, unknown]): [string, unknown] => {
    if (NUMBERS.includes(key) && isStated(value)) {
      return [key, { parameter: lift(key === 'addYears' ? { ...value, unit: 'year' } : value) }];
    }
    if (key === 'values') return [key, { parameter: lift({ value }) }];
    if (key !== 'expr' || typeof value !== 'string') return [key, value];
    const expr = value.replace(/q\(([-\d.]+), "([^"]+)"\)/gu, (_, number: string, unit: string) => {
      return `params.${lift({ value: Number(number), unit })}`;
    });
    return [key, expr];
  };
  const lifted = rules.map((rule) => ({
    ...rule,
    test: Object.fromEntries(Object.entries(rule['test'] as Json).map(liftPart)),
  }));
  return { rules: lifted, parameters };
}

const unitsLike = (unit: Unit): Unit[] =>
  (Object.keys(UNITS) as Unit[]).filter((one) => dimensionOf(one) === dimensionOf(unit));

function arbOverride({ value, unit }: Stated): fc.Arbitrary<Stated> {
  if (Array.isArray(value)) return fc.subarray(value, { minLength: 1 }).map((some: unknown) => ({ value: some }));
  if (typeof value !== 'number') return fc.constant({ value });
  const own = parseUnit(unit ?? '1') ?? '1';
  if (dimensionOf(own) === 'calendar') {
    return fc.record({ value: fc.integer({ min: 0, max: 40 }), unit: fc.constantFrom('month', 'year') });
  }
  return fc
    .tuple(fc.constantFrom(0.5, 0.9, 1, 1.1, 2), fc.constantFrom(undefined, ...unitsLike(own)))
    .map(([factor, into]) => {
      const wanted = Math.round(value * factor * 1000) / 1000;
      return into === undefined ? { value: wanted } : { value: convert(wanted, own, into), unit: into };
    });
}

const arbEffects = (rules: readonly Json[]): fc.Arbitrary<Json> =>
  fc
    .subarray(rules.map((rule) => String(rule['id'])))
    .chain((ids) => fc.tuple(fc.constant(ids), fc.constantFrom('bar', 'inspect', 'advise'), fc.boolean()))
    .map(([ids, effect, watch]) => Object.fromEntries(ids.map((id) => [id, { effect, watch, reason: 'Tried here' }])));

/** Rules with parameters, overrides of some of them, changed effects, and rules to add that use the same parameters. */
export const arbChangedRules: fc.Arbitrary<{ before: PartialRules; parameters: Json; effects: Json; added: Json[] }> =
  arbRules.chain((rules) => {
    const before = liftParameters(rules);
    const names = Object.keys(before.parameters);
    const parameters = fc
      .subarray(names)
      .chain((some) =>
        fc.record(Object.fromEntries(some.map((name) => [name, arbOverride(before.parameters[name] as Stated)]))),
      );
    return fc.record({
      before: fc.constant(before),
      parameters: parameters.map((one) => ({ ...one })),
      effects: arbEffects(before.rules),
      added: fc.subarray(before.rules),
    });
  });
