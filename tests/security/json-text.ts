const ID = Symbol('a value that the application has given out');
const RAW = Symbol('text that stands in the JSON as it is');

/** A value seen under this name in an answer, chosen when the request is built; `otherwise` while there is none. */
export interface Learnt {
  readonly [ID]: string;
  pick: number;
  otherwise: unknown;
}

/** JSON text that no value has: `1e400`, `NaN`, a key twice. As a member's value, it replaces the value. */
export interface Raw {
  readonly [RAW]: string;
}

export const learnt = (name: string, pick: number, otherwise: unknown): Learnt => ({ [ID]: name, pick, otherwise });
export const raw = (text: string): Raw => ({ [RAW]: text });

export const nameOf = (value: object): string | undefined => (value as Partial<Learnt>)[ID];
const rawOf = (value: object): string | undefined => (value as Partial<Raw>)[RAW];

/** What `Learnt` values stand for. */
export type Choose = (name: string, pick: number) => unknown;

/** Puts values in for what is learnt, and leaves everything else. */
export function settle(value: unknown, choose: Choose): unknown {
  if (typeof value !== 'object' || value === null || rawOf(value) !== undefined) return value;
  const name = nameOf(value);
  if (name !== undefined) {
    const { pick, otherwise } = value as Learnt;
    return choose(name, pick) ?? settle(otherwise, choose);
  }
  if (Array.isArray(value)) return value.map((part) => settle(part, choose));
  const made: Record<string, unknown> = {};
  for (const [key, part] of Object.entries(value)) {
    // An assignment of this name would set the prototype and not a member.
    Object.defineProperty(made, key, {
      value: settle(part, choose),
      enumerable: true,
      configurable: true,
      writable: true,
    });
  }
  return made;
}

/** JSON text of a settled value, in which raw parts stand as they are. */
export function toJsonText(value: unknown): string {
  if (typeof value !== 'object' || value === null) return JSON.stringify(value) ?? 'null';
  const text = rawOf(value);
  if (text !== undefined) return text;
  if (Array.isArray(value)) return `[${value.map(toJsonText).join(',')}]`;
  const members = Object.entries(value)
    .filter(([, part]) => part !== undefined)
    .map(([key, part]) => (key === RAW_MEMBERS ? toJsonText(part) : `${JSON.stringify(key)}:${toJsonText(part)}`));
  return `{${members.join(',')}}`;
}

/** The name of a member whose raw text brings its own key. */
export const RAW_MEMBERS = '\u0001raw members';
