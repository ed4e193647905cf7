import type { PrintedForm } from '../catalogue/item.ts';

const DATE_CODE = /(?:^|[^0-9])([0-9]{2})[ /.-]?([0-9]{2})\)?$/u;
const OLD_DATE_CODE = /(?:^|[^0-9])([0-9]{3})$/u;
const RATING = /(?:^|[\s/])(\(?[0-9]{2,3}(?:\/[0-9]{2,3})?)\s*([A-Z]{1,2}\)?)(?:\s*(?:XL|EXTRA LOAD))?$/u;
const OIL = /^(?:SAE\s*)?(?:([0-9]{1,2})\s*W(?:\s*[-/ ]?\s*([0-9]{1,2}))?|([0-9]{1,2}))$/u;

/** The last four digits of an identification number as it stands on a sidewall: `DOT 4B9K 1X2Y 2324` is `2324`. */
function dateCode(text: string): string {
  const four = DATE_CODE.exec(text);
  if (four !== null) return `${four[1]}${four[2]}`;
  return OLD_DATE_CODE.exec(text)?.[1] ?? text;
}

/** The service description alone: `205/55 R16 91w` is `91W`. */
function rating(text: string): string {
  const found = RATING.exec(text.toUpperCase());
  if (found === null) return text;
  const isExtraLoad = /(?:XL|EXTRA LOAD)$/u.test(found[0]);
  return `${found[1]}${found[2]}${isExtraLoad ? ' XL' : ''}`;
}

/** As SAE J300 writes it: `15W50` and `sae 15w-50` are `15W-50`, `SAE 50` is `50`. */
function oilGrade(text: string): string {
  const found = OIL.exec(text.toUpperCase());
  if (found === null) return text;
  const [, winter, hot, alone] = found;
  if (winter === undefined) return String(alone);
  return hot === undefined ? `${winter}W` : `${winter}W-${hot}`;
}

const READERS: Readonly<Record<PrintedForm, (text: string) => string>> = {
  'tyre-date-code': dateCode,
  'tyre-rating': rating,
  'oil-grade': oilGrade,
};

/**
 * What somebody copied from a label or sidewall, in the one way that is kept and judged. A text that is none of the
 * forms stays as it is, so that whoever typed it is told. Idempotent, never throws. Source: how labels are printed
 * (49 CFR 574.5 for the date code, SAE J300 for oil); the spellings people use are common practice.
 */
export function readPrinted(form: PrintedForm | undefined, text: string): string {
  const trimmed = text.trim();
  return form === undefined ? trimmed : READERS[form](trimmed);
}
