import { signal } from '@preact/signals';
import { currentLanguage } from '../shared/text.ts';
import { text } from './text.ts';

const { t } = text;

/** A time of day at the venue. */
export function clockTime(instant: string | number, timeZone: string, withSeconds = false): string {
  const parts: Intl.DateTimeFormatOptions = { hour: '2-digit', minute: '2-digit', hourCycle: 'h23' };
  if (withSeconds) parts.second = '2-digit';
  return new Intl.DateTimeFormat(currentLanguage(), { timeZone, ...parts }).format(new Date(instant));
}

/** A day and a time at the venue. */
export function dayAndTime(instant: string, timeZone: string): string {
  const day = { weekday: 'short', day: 'numeric', month: 'short' } as const;
  const parts = { ...day, hour: '2-digit', minute: '2-digit', hourCycle: 'h23' } as const;
  return new Intl.DateTimeFormat(currentLanguage(), { timeZone, ...parts }).format(new Date(instant));
}

/** `mm:ss`; nothing below zero. */
export function minutesSeconds(milliseconds: number): string {
  const seconds = Math.max(0, Math.ceil(milliseconds / 1000));
  return `${String(Math.floor(seconds / 60)).padStart(2, '0')}:${String(seconds % 60).padStart(2, '0')}`;
}

const WHEEL = /^(FL|FR|RL|RR)(?:\.(in|out|inner|middle|outer))?$/;

/** Where on the car, in words. */
export function placeName(position: string): string {
  const [, wheel, part] = WHEEL.exec(position) ?? [];
  if (wheel === undefined) return nameOf(position);
  const corner = t(`wheel.${wheel}` as 'wheel.FL');
  return part === undefined ? corner : `${corner}, ${t(`wheel.part.${part}` as 'wheel.part.in')}`;
}

/** A key without a text of its own is read as it is. */
function nameOf(position: string): string {
  const name = t(`position.${position}` as 'position.front');
  return name.startsWith('position.') ? position.replaceAll('-', ' ') : name;
}

/** A value as a person reads it. */
export function valueText(value: unknown, unit?: string): string {
  if (typeof value === 'boolean') return t(value ? 'yes' : 'no');
  if (typeof value === 'number') {
    const number = new Intl.NumberFormat(currentLanguage(), { maximumFractionDigits: 3 }).format(value);
    return unit === undefined || unit === '1' ? number : `${number} ${unit}`;
  }
  return Array.isArray(value) ? value.join(', ') : String(value);
}

/** How far the server's clock is ahead of this device's, milliseconds; known to about a second. */
let offsetMs = 0;

/** The server's clock now, milliseconds, renewed each second. */
export const now = signal(Date.now());

/** Takes over the time of an answer. */
export function noteServerTime(date: Date | undefined): void {
  if (date === undefined) return;
  // The header has whole seconds, cut off: half of one more is right on average.
  offsetMs = date.getTime() + 500 - Date.now();
  now.value = serverNow();
}

export const serverNow = (): number => Date.now() + offsetMs;

/** Starts the ticking; once per page. */
export function startClock(): void {
  setInterval(() => {
    now.value = serverNow();
  }, 1000);
}
