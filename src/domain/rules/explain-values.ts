import type { Reading } from './finding.ts';
import { formatQuantity, parseUnit } from '../quantity.ts';

/** A value of a judgement, with its unit where it is a number. */
export type PlainValue = number | string | boolean | readonly unknown[];

/** `3.5 mm`, `1 day`, `2 months`; a unit we do not know is written as it stands. */
export function amountText(value: number, unit: string | undefined): string {
  if (unit === 'day' || unit === 'month' || unit === 'year')
    return `${value} ${unit}${Math.abs(value) === 1 ? '' : 's'}`;
  if (unit === undefined) return `${value}`;
  const known = parseUnit(unit);
  return known === undefined ? `${value} ${unit}` : formatQuantity(value, known);
}

/** A value as people read it: `3.5 mm`, `yes`, `5W-40, 5W-50`. */
export function valueText(value: PlainValue, unit?: string): string {
  if (typeof value === 'number') return amountText(value, unit);
  if (typeof value === 'boolean') return value ? 'yes' : 'no';
  return typeof value === 'string' ? value : value.map(String).join(', ') || 'nothing chosen';
}

/** A finding's measured value as people read it. */
export function readingText(reading: Reading): string {
  return valueText(reading.value, 'unit' in reading ? reading.unit : undefined);
}

/** An answer as it was sent, a bare number in the item's unit: `{value: 3, unit: "1/32in"}` is `3/32 in`. */
export function sentText(raw: unknown, itemUnit: string | undefined): string {
  if (typeof raw === 'object' && raw !== null && 'value' in raw && 'unit' in raw) {
    return typeof raw.value === 'number'
      ? amountText(raw.value, String(raw.unit))
      : `${String(raw.value)} ${String(raw.unit)}`;
  }
  if (typeof raw === 'number') return amountText(raw, itemUnit);
  if (typeof raw === 'boolean' || typeof raw === 'string') return valueText(raw);
  return Array.isArray(raw) ? valueText(raw) : JSON.stringify(raw);
}

/** `rotorMinimumThicknessMm` as `rotor minimum thickness`, `FL` and `front-upper-arm` as they are. */
export function fieldText(path: readonly string[]): string {
  return path
    .map((part) =>
      /^[a-z]+[A-Z]/u.test(part)
        ? part
            .replace(/(Mm|Kpa|Kg|Kmh|Nm|Deg|Db|G|V|M)$/u, '')
            .replaceAll(/[A-Z]/gu, (letter) => ` ${letter.toLowerCase()}`)
        : part,
    )
    .join(' ');
}

const LIST_SHOWN = 6;

/** A list within a text, cut after its sixth entry: `one of: a, b, c, d, e, f and 50 more`. */
export function shortList(text: string): string {
  const [head = '', rest] = text.split(': ', 2);
  const entries = rest?.split(', ') ?? [];
  if (entries.length <= LIST_SHOWN + 1) return text;
  return `${head}: ${entries.slice(0, LIST_SHOWN).join(', ')} and ${entries.length - LIST_SHOWN} more`;
}
