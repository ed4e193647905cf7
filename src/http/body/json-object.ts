import { z } from 'zod';
import { defineThreadTask } from '../../platform/threads/thread-task.ts';

/** More than any request of ours has, and few enough to be judged one by one where requests are answered. */
const MAX_MEMBERS = 2000;
const MAX_ELEMENTS = 5000;
const MAX_VALUES = 100_000;

type Path = (string | number)[];

interface Counted {
  values: number;
}

const sizeFault = (value: object): string | undefined => {
  if (Array.isArray(value)) return value.length > MAX_ELEMENTS ? `has more than ${MAX_ELEMENTS} elements` : undefined;
  return Object.keys(value).length > MAX_MEMBERS ? `has more than ${MAX_MEMBERS} members` : undefined;
};

/** Depth is bounded by `findUnstorable`, which has looked before. */
function findTooMany(value: unknown, path: Path, counted: Counted): Unstorable | undefined {
  counted.values += 1;
  if (counted.values > MAX_VALUES) return { path: [], message: `holds more than ${MAX_VALUES} values` };
  if (typeof value !== 'object' || value === null) return undefined;
  const fault = sizeFault(value);
  if (fault !== undefined) return { path: [...path], message: fault };
  for (const [key, part] of Object.entries(value)) {
    path.push(Array.isArray(value) ? Number(key) : key);
    const found = findTooMany(part, path, counted);
    if (found !== undefined) return found;
    path.pop();
  }
  return undefined;
}

/** Finds what keeps a JSON body from being taken: what could not be stored, or more parts than a request may have. */
export function findUntakeable(value: unknown): Unstorable | undefined {
  return findUnstorable(value) ?? findTooMany(value, [], { values: 0 });
}

const MAX_DEPTH = 40;

/** Any JSON object. What could not be stored and read back unchanged never gets this far: see `parsers.ts`. */
export const JsonObject = z.record(z.string(), z.unknown());
export type JsonObject = z.infer<typeof JsonObject>;

/** What PostgreSQL would not give back as it was sent, and where. */
export interface Unstorable {
  path: (string | number)[];
  message: string;
  /** kind of fault; `not-storable` unless told */
  code?: string;
}

/**
 * Finds what PostgreSQL would not give back as it was sent: numbers too large to represent (they would turn to null),
 * text it cannot store (U+0000, half of a surrogate pair) and nesting that could exhaust the stack.
 */
export function findUnstorable(value: unknown, path: (string | number)[] = []): Unstorable | undefined {
  if (path.length > MAX_DEPTH) return { path, message: `must not be nested more than ${MAX_DEPTH} levels deep` };
  if (typeof value === 'string') return isStorableText(value) ? undefined : { path, message: BAD_TEXT };
  if (typeof value === 'number') return Number.isFinite(value) ? undefined : { path, message: 'is too large a number' };
  return typeof value === 'object' && value !== null ? findInMembers(value, path) : undefined;
}

function findInMembers(value: object, path: (string | number)[]): Unstorable | undefined {
  for (const [key, part] of Object.entries(value)) {
    if (isForbiddenKey(key, part)) return { path: [...path, key], message: FORBIDDEN, code: 'forbidden-key' };
    if (!isStorableText(key)) return { path, message: `has a key that ${BAD_TEXT}` };
    const fault = findUnstorable(part, [...path, Array.isArray(value) ? Number(key) : key]);
    if (fault !== undefined) return fault;
  }
  return undefined;
}

const FORBIDDEN = 'is a key that would change what the object is; no object may have it';

/** `__proto__`, and `constructor` with a `prototype`: what reads such an object may be changed by it. */
function isForbiddenKey(key: string, part: unknown): boolean {
  if (key === '__proto__') return true;
  return key === 'constructor' && typeof part === 'object' && part !== null && Object.hasOwn(part, 'prototype');
}

const BAD_TEXT = 'must not hold U+0000 or half of a surrogate pair';

function isStorableText(text: string): boolean {
  // oxlint-disable-next-line no-control-regex -- this control character is exactly what is refused
  return !/[\u0000\p{Surrogate}]/u.test(text);
}

/** What is wrong with a body: it is no JSON, or not JSON that can be taken. */
export type BodyFault = { malformed: string } | Unstorable;

/** Looks at a large JSON body before it is read where requests are answered. */
export const jsonBodyTask = defineThreadTask<string, BodyFault | undefined>({
  name: 'body.look',
  processorMs: 1500,
  clockMs: 20_000,
  run(text) {
    let value: unknown;
    try {
      value = JSON.parse(text);
    } catch (error) {
      return { malformed: error instanceof Error ? error.message : String(error) };
    }
    return findUntakeable(value);
  },
});
