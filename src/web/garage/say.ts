import type { SimpleAnswerType } from '../../domain/catalogue/item.ts';
import { currentLanguage } from '../shared/text.ts';
import { locale } from '../shared/times.ts';
import { asUnit, convertShown, showNumber, shownUnit, showQuantity } from '../shared/units.ts';
import { type FormItem, placeOfCell, placesOf, typeOf } from './asked.ts';
import type { Leaf } from './cells.ts';
import { text } from './text.ts';

const { t } = text;
type Key = Parameters<typeof t>[0];

/** Texts whose keys are made of what the API says: a name that we do not know stands for itself. */
function named(prefix: string, name: string): string {
  const key = `${prefix}.${name}` as Key;
  const said = t(key);
  return said === key ? pretty(name) : said;
}

/** An option of the catalogue as people read it: `surface-checks` is `Surface checks`, `DOT 5.1` stays. */
export function pretty(option: string): string {
  if (!/^[a-z]+(-[a-z0-9]+)*$/.test(option)) return option;
  const words = option.replaceAll('-', ' ');
  return words.charAt(0).toUpperCase() + words.slice(1);
}

/** `FL.in` is "front left, inner pad" for pads, and other things for other items. */
export function positionName(position: string): string {
  const [corner = '', part] = position.split('.');
  return part === undefined ? cornerName(corner) : `${cornerName(corner)}, ${partName(part)}`;
}

export const cornerName = (corner: string): string => named('at', corner);
export const partName = (part: string): string => named('part', part);

/** The units that are words differ by language; the others are signs. */
export function quantity(value: number, unit: string): string {
  const language = currentLanguage();
  const isWord = ['day', 'month', 'year', 'turns', 'h', 'min'].includes(unit);
  if (isWord) return t(`unit.${unit}` as Key, { count: value, n: showNumber(value, language) });
  const known = asUnit(unit);
  return known === undefined ? `${showNumber(value, language)} ${unit}` : showQuantity(value, known, language);
}

/** A value in the units of this device. */
export function inChosen(
  value: number,
  unit: string,
  of: { decimals: number; largest?: number; difference?: boolean },
): string {
  const from = asUnit(unit);
  if (from === undefined) return quantity(value, unit);
  const to = shownUnit(from, of.largest ?? value);
  return quantity(convertShown(value, from, to, of), to);
}

/** An answer as people read it. */
export function leafText(type: SimpleAnswerType, leaf: Leaf | undefined): string {
  if (leaf === undefined) return t('answer.none');
  if (typeof leaf === 'boolean') return t(leaf ? 'yes' : 'no');
  if (Array.isArray(leaf) && leaf.length === 0) return t('answer.none-of-these');
  if (Array.isArray(leaf)) return leaf.map((one) => pretty(String(one))).join(', ');
  if (typeof leaf === 'object') return quantity((leaf as { value: number }).value, (leaf as { unit: string }).unit);
  if (typeof leaf === 'string') return type.kind === 'date' ? dateText(leaf) : pretty(leaf);
  if (type.kind !== 'number') return String(leaf);
  return inChosen(leaf, type.unit, { decimals: type.decimals, largest: type.max });
}

export function dateText(day: string): string {
  const [year = 0, month = 1, date = 1] = day.split('-').map(Number);
  return new Intl.DateTimeFormat(locale(), { dateStyle: 'medium', timeZone: 'UTC' }).format(
    Date.UTC(year, month - 1, date),
  );
}

/** An instant at the venue. */
export function timeText(instant: string, timeZone: string): string {
  return new Intl.DateTimeFormat(locale(), { dateStyle: 'medium', timeStyle: 'short', timeZone }).format(
    new Date(instant),
  );
}

/** The label of a cell for a list: the question, the place, the part. */
export function cellLabel(items: readonly FormItem[], cell: string): string {
  const { key, position, field } = placeOfCell(cell);
  const item = items.find((one) => one.key === key);
  const part = item === undefined ? undefined : placesOf(item).find((one) => one.cell === cell)?.part?.label;
  return [item?.label ?? key, position === undefined ? undefined : positionName(position), part ?? field]
    .filter((one) => one !== undefined)
    .join(', ');
}

/** The decimals an item's numbers are kept with. */
export function decimalsOfItem(item: FormItem | undefined): number {
  if (item === undefined) return 1;
  const type = typeOf(item);
  if (type.kind === 'number') return type.decimals;
  return 1;
}
