import type { SimpleAnswerType } from '../../../domain/catalogue/item.ts';
import type { Finding } from '../../api/operations.ts';
import { currentLanguage } from '../../shared/text.ts';
import { saysText } from '../../shared/says.ts';
import { locale } from '../../shared/times.ts';
import { asUnit, convertShown, decimalsOf, showNumber, shownUnit, showQuantity } from '../../shared/units.ts';
import { type FormItem, placeOfCell, everyPlace, typeOf } from '../kept/asked.ts';
import { isNoAnswer, type Leaf, type NoAnswer } from '../kept/cells.ts';
import { text } from '../text.ts';

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

/** What the engine said, with the places in it as people read them: `… at front-upper-arm` is `… (Front upper arm)`. */
export const messageText = (message: string): string =>
  message.replaceAll(
    /(?<="[^":;]*) at ([A-Za-z.-]+)(?=[:;]|$)/gu,
    (_, position: string) => ` (${positionName(position)})`,
  );

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

/** What an option is called, in the language of the page. */
export function optionText(type: SimpleAnswerType, option: string): string {
  const names = type.kind === 'choice' || type.kind === 'choices' ? type.names : undefined;
  return names?.[option] ?? pretty(option);
}

/** An answer as people read it. */
export function leafText(type: SimpleAnswerType, leaf: Leaf | undefined): string {
  if (leaf === undefined) return t('answer.none');
  if (typeof leaf === 'boolean') return t(leaf ? 'yes' : 'no');
  if (Array.isArray(leaf) && leaf.length === 0) return t('answer.none-of-these');
  if (Array.isArray(leaf)) return leaf.map((one) => optionText(type, String(one))).join(', ');
  if (isNoAnswer(leaf)) return noAnswerText(leaf);
  if (typeof leaf === 'object') return quantity((leaf as { value: number }).value, (leaf as { unit: string }).unit);
  if (typeof leaf === 'string') return type.kind === 'date' ? dateText(leaf) : optionText(type, leaf);
  if (type.kind !== 'number') return String(leaf);
  return inChosen(leaf, type.unit, { decimals: type.decimals, largest: type.max });
}

/** What stands in the place of an answer, as people read it. */
export const noAnswerText = (said: NoAnswer): string =>
  'notSure' in said ? t('not-sure.said') : t('not-applicable.said', { reason: reasonText(said.doesNotApply) });

/** A reason in the language of the page where we have it, else as the server has it. */
export function reasonText(reason: string, label?: string): string {
  const known = t(`reason.${reason}` as Key);
  return known === `reason.${reason}` ? (label ?? pretty(reason)) : known;
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
  const part = item === undefined ? undefined : everyPlace(item).find((one) => one.cell === cell)?.part?.label;
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

/** The limits as sentences: what stops the car, and what is looked at. */
export function limitsOf({ rules }: FormItem): string {
  const said = rules.flatMap(({ effect, says }) =>
    effect === 'advise' || says === undefined || says.open === true ? [] : [saysText(says)],
  );
  return [...new Set(said)].slice(0, 3).join(' ');
}
