import { stringify } from 'yaml';

type Order = (one: string, other: string) => number;

function ordered(value: unknown, order: Order): unknown {
  if (Array.isArray(value)) return value.map((part) => ordered(part, order));
  if (typeof value !== 'object' || value === null) return value;
  const entries = Object.entries(value).toSorted(([one], [other]) => order(one, other));
  // a Map keeps this order also for keys that look like numbers
  return new Map(entries.map(([key, part]) => [key, ordered(part, order)]));
}

/** Keys in the order given, those that are not in it behind them by their characters. */
export function keyOrder(first: readonly string[]): Order {
  const rank = new Map(first.map((key, index) => [key, index]));
  const rankOf = (key: string) => rank.get(key) ?? first.length;
  return (one, other) => rankOf(one) - rankOf(other) || (one < other ? -1 : one > other ? 1 : 0);
}

/** JSON as YAML 1.2, always the same text for the same value; reading it gives the value back. */
export function writeYaml(value: unknown, order: Order): string {
  return stringify(ordered(value, order), {
    version: '1.2',
    schema: 'core',
    aliasDuplicateObjects: false,
    lineWidth: 110,
    minContentWidth: 40,
  });
}
