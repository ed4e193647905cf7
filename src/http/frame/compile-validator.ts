import type { FastifySchemaCompiler } from 'fastify';
import { validatorCompiler } from 'fastify-type-provider-zod';
import type { $ZodType, $ZodTypes } from 'zod/v4/core';

/** Cuts lists that are longer than they may be, in place. */
type Cut = (value: unknown) => void;

const WRAPPERS: ReadonlySet<string> = new Set([
  'optional',
  'nullable',
  'default',
  'prefault',
  'readonly',
  'nonoptional',
]);

/**
 * As the type provider's own, but a list with more elements than it may have is refused before they are looked at: each
 * element of such a list would have its faults found, worded and thrown away. It is cut to one more than it may have, so
 * that the answer names the list as too long and the faults of the first elements as ever.
 */
export const compileValidator: FastifySchemaCompiler<$ZodType> = (route) => {
  const validate = validatorCompiler(route);
  const cut = cutsOf(route.schema, new Set());
  if (cut === undefined) return validate;
  return (value: unknown) => {
    cut(value);
    return validate(value);
  };
};

/** @returns undefined where no list of the schema is bounded; a schema within itself is followed once */
function cutsOf(schema: $ZodType, above: ReadonlySet<$ZodType>): Cut | undefined {
  if (above.has(schema)) return undefined;
  const within = new Set([...above, schema]);
  const { def } = (schema as $ZodTypes)._zod;
  if (def.type === 'array') return cutList(schema._zod.bag['maximum'], cutsOf(def.element, within));
  if (def.type === 'object') {
    const members = Object.entries(def.shape).flatMap(([key, member]) => {
      const cut = cutsOf(member, within);
      return cut === undefined ? [] : [[key, cut] as const];
    });
    return members.length === 0 ? undefined : cutMembers(members);
  }
  if (def.type === 'record') return cutValues(cutsOf(def.valueType, within));
  if (def.type === 'pipe') return cutsOf(def.in, within);
  if (WRAPPERS.has(def.type) && 'innerType' in def) return cutsOf(def.innerType, within);
  return undefined;
}

function cutList(maximum: unknown, cutElement: Cut | undefined): Cut | undefined {
  if (typeof maximum !== 'number' && cutElement === undefined) return undefined;
  return (value) => {
    if (!Array.isArray(value)) return;
    if (typeof maximum === 'number' && value.length > maximum) value.length = maximum + 1;
    if (cutElement !== undefined) value.forEach(cutElement);
  };
}

const isObject = (value: unknown): value is Readonly<Record<string, unknown>> =>
  typeof value === 'object' && value !== null && !Array.isArray(value);

function cutMembers(members: readonly (readonly [string, Cut])[]): Cut {
  return (value) => {
    if (isObject(value)) for (const [key, cut] of members) cut(value[key]);
  };
}

function cutValues(cut: Cut | undefined): Cut | undefined {
  if (cut === undefined) return undefined;
  return (value) => {
    if (isObject(value)) Object.values(value).forEach(cut);
  };
}
