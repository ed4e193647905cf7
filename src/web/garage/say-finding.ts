import type { Finding } from '../api/operations.ts';
import { currentLanguage } from '../shared/text.ts';
import { decimalsOf, showNumber } from '../shared/units.ts';
import { inChosen, pretty } from './say.ts';
import { text } from './text.ts';

const { t } = text;

type Bounds = NonNullable<Finding['bounds']>;

/** A limit as the form and the findings have it. */
interface Limit {
  limit?: string | undefined;
  bounds?: Bounds | undefined;
}

const sizeOf = (bound: { value: number } | undefined): number => Math.abs(bound?.value ?? 0);
const largestOf = (bounds: Bounds | undefined): number => Math.max(sizeOf(bounds?.min), sizeOf(bounds?.max));

/** A list of options in a limit (`none of: surface-checks, opening`) with the options as they are shown elsewhere. */
function listText(limit: string): string {
  const [, kind, list] = /^(one|none) of: (.*)$/u.exec(limit) ?? [];
  if (kind === undefined || list === undefined) return limit;
  return t(kind === 'one' ? 'limit.oneOf' : 'limit.noneOf', { list: list.split(', ').map(pretty).join(', ') });
}

/** "At least 4 mm", in the units of this device; the text of the rules where it is no number. */
export function limitText({ limit, bounds }: Limit, decimals = 1): string | undefined {
  if (bounds !== undefined) return boundsText(bounds, decimals) ?? limit;
  return limit === undefined ? undefined : listText(limit);
}

function boundsText(bounds: Bounds, decimals: number): string | undefined {
  const { min, max, exclusive, spread } = bounds;
  const show = ({ value, unit }: { value: number; unit: string }): string =>
    inChosen(value, unit, {
      decimals: Math.max(decimals, decimalsOf(value)),
      largest: largestOf(bounds),
      difference: spread === true,
    });
  if (min !== undefined && max !== undefined) {
    return min.value === max.value ? show(min) : t('limit.between', { low: show(min), high: show(max) });
  }
  if (min !== undefined) return t(exclusive ? 'limit.moreThan' : 'limit.atLeast', { value: show(min) });
  if (max === undefined) return undefined;
  if (spread) return t('limit.spread', { value: show(max) });
  return t(exclusive ? 'limit.lessThan' : 'limit.atMost', { value: show(max) });
}

/** "1.2 mm to spare" or "0.9 mm outside the limit". */
export function marginText({ margin, bounds, measured, result }: Finding, decimals = 1): string | undefined {
  if (margin === undefined || margin.unit === '1') return undefined;
  if (margin.value === 0 && result === 'met') return t('margin.on');
  const judged = typeof measured?.value === 'number' ? Math.abs(measured.value) : 0;
  const value = inChosen(Math.abs(margin.value), margin.unit, {
    decimals: Math.max(decimals, decimalsOf(margin.value)),
    largest: Math.max(largestOf(bounds), judged),
    difference: true,
  });
  return t(result === 'met' ? 'margin.inside' : 'margin.outside', { value });
}

/** What was judged, as people read it. */
export function measuredText({ measured, bounds }: Finding, decimals = 1): string | undefined {
  if (measured === undefined) return undefined;
  const { value, unit } = measured;
  if (typeof value === 'boolean') return t(value ? 'yes' : 'no');
  if (typeof value === 'string') return pretty(value);
  if (unit === undefined || unit === '1') return showNumber(value, currentLanguage());
  return inChosen(value, unit, {
    decimals: Math.max(decimals, decimalsOf(value)),
    largest: Math.max(Math.abs(value), largestOf(bounds)),
    difference: bounds?.spread === true,
  });
}
