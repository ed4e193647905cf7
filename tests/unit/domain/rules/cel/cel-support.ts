import { type CelReader, compileCel } from '../../../../../src/domain/rules/cel/generate.ts';
import type { CelScope, CelType, CelValue } from '../../../../../src/domain/rules/cel/types.ts';

export type Value = CelValue | { readonly [position: string]: CelValue };
export interface Named {
  type: CelType;
  value?: Value;
}

/** Names for an expression that stands on its own: the place of a variable is its name. */
export function scopeOf(names: Readonly<Record<string, Named>>): CelScope<string> {
  return {
    find(path) {
      for (let taken = path.length; taken > 0; taken -= 1) {
        const name = path.slice(0, taken).join('.');
        const named = Object.hasOwn(names, name) ? names[name] : undefined;
        if (named !== undefined) return { variable: { type: named.type, ref: name }, taken };
      }
      return { fault: `unknown name ${path.join('.')}`, unknown: 'name' };
    },
  };
}

type Names = Readonly<Record<string, Named>>;
const mapAt = (names: Names, place: string): Readonly<Record<string, CelValue>> => {
  const value = names[place]?.value;
  return typeof value === 'object' && !Array.isArray(value) ? (value as Record<string, CelValue>) : {};
};

const READER: CelReader<Names, string> = {
  get: (names, place) => names[place]?.value as CelValue | undefined,
  getAt: (names, place, key) => (Object.hasOwn(mapAt(names, place), key) ? mapAt(names, place)[key] : undefined),
  has: (names, place) => names[place]?.value !== undefined,
  hasAt: (names, place, key) => Object.hasOwn(mapAt(names, place), key),
  keys: (place) => KEYS.get(place) ?? [],
};
const KEYS = new Map<string, readonly string[]>();

/** Compiles and runs an expression; `{ fault }` when it is refused, `{ value: undefined }` when it has no answer. */
export function runCel(source: string, names: Names = {}): { faults: string[] } | { value: CelValue | undefined } {
  const compiled = compileCel(source, scopeOf(names), 'any');
  if (!compiled.ok) return { faults: compiled.faults.map((fault) => `${fault.code}@${fault.offset} ${fault.detail}`) };
  for (const [name, { type }] of Object.entries(names)) if (type.kind === 'map') KEYS.set(name, type.keys);
  const places = compiled.expression.variables.map((variable) => variable.ref);
  return { value: compiled.expression.run(READER, names, places) };
}
