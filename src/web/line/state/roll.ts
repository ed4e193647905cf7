import type { Station } from './station.ts';
import { type Worksheet, keep } from './worksheet.ts';

/** The stickers of one inspector, on a roll: numbers that count up. */
export interface Roll {
  /** as it is printed on the sticker that comes next */
  next: string;
}

const LONGEST = 12;

/** The number after this one: its last digits count up; what stands before and behind, and zeros in front, stay. */
export function numberAfter(number: string): string | undefined {
  const [, before, digits, behind] = /^(.*?)(\d+)(\D*)$/.exec(number.trim()) ?? [];
  if (before === undefined || digits === undefined || behind === undefined) return undefined;
  const next = String(BigInt(digits) + 1n).padStart(digits.length, '0');
  const whole = `${before}${next}${behind}`;
  return whole.length > LONGEST ? undefined : whole;
}

/** The worksheet with the next number of the roll where nobody typed another one. */
export function withSticker(worksheet: Worksheet, roll: Roll | undefined): Worksheet {
  if (worksheet.ownSticker === true || worksheet.sticker !== '' || roll === undefined) return worksheet;
  return { ...worksheet, sticker: roll.next };
}

const nameOf = ({ event }: Station): string => `roll:${event.eventId}`;

/** Sets the roll of this device, or takes it away. */
export function setRoll(station: Station, next: string | undefined): void {
  station.roll.value = next === undefined ? undefined : { next };
  void keep(nameOf(station), station.roll.value);
}

/** A sticker that is on a car, on another one, or damaged: the one after it comes next, if it was the next. */
export function passSticker(station: Station, used: string): void {
  if (station.roll.value?.next === used) setRoll(station, numberAfter(used));
}
