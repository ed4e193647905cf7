import { findUnstorable, type Unstorable } from './json-object.ts';

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
