import { reasonIn } from '../../domain/clearance/reason-translation.ts';
import { currentLanguage } from './text.ts';

interface EventDays {
  timeZone: string;
  /** first and last day at the venue, `YYYY-MM-DD` */
  startsOn: string;
  endsOn: string;
}

const INSTANT = /\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?Z/g;

/** `10:42` at the venue; with the day when that is another one. */
export function clockTime(instant: Date | string, timeZone: string, now: Date = new Date()): string {
  const at = new Date(instant);
  const language = locale();
  const day = (date: Date) => date.toLocaleDateString(language, { timeZone, day: 'numeric', month: 'short' });
  const time = at.toLocaleTimeString(language, { timeZone, hour: '2-digit', minute: '2-digit', hour12: false });
  return day(at) === day(now) ? time : `${day(at)}, ${time}`;
}

/** As this person writes dates and times: the region of the browser where it speaks the language of the page. */
export function locale(): string {
  const language = currentLanguage();
  return navigator.languages.find((tag) => tag.startsWith(language)) ?? (language === 'en' ? 'en-GB' : language);
}

/** Whether a day of an event is today where it takes place. Texts of this form sort by date. */
export function isOn({ timeZone, startsOn, endsOn }: EventDays, now: Date | number): boolean {
  // The Swedish form of a date is that of ISO 8601.
  const day = new Intl.DateTimeFormat('sv-SE', { timeZone }).format(now);
  return startsOn <= day && day <= endsOn;
}

/** What the gate says of a car, in the language of the page, its instants as times at the venue: nobody there reads UTC. */
export function reasonText(reason: string, timeZone: string): string {
  return reasonIn(reason, currentLanguage()).replace(INSTANT, (instant) => clockTime(instant, timeZone));
}
