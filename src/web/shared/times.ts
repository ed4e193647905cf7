import { currentLanguage } from './text.ts';

const INSTANT = /\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?Z/g;

/** `10:42` at the venue; with the day when that is another one. */
export function clockTime(instant: Date | string, timeZone: string, now: Date = new Date()): string {
  const at = new Date(instant);
  const language = localeOf(currentLanguage());
  const day = (date: Date) => date.toLocaleDateString(language, { timeZone, day: 'numeric', month: 'short' });
  const time = at.toLocaleTimeString(language, { timeZone, hour: '2-digit', minute: '2-digit', hour12: false });
  return day(at) === day(now) ? time : `${day(at)}, ${time}`;
}

/** As the device's owner writes times, where he has that language. */
function localeOf(language: string): string {
  return navigator.languages.find((tag) => tag.startsWith(language)) ?? (language === 'en' ? 'en-GB' : language);
}

/** A sentence of the server with its instants as times at the venue: nobody at a gate reads UTC. */
export function withClockTimes(sentence: string, timeZone: string): string {
  return sentence.replace(INSTANT, (instant) => clockTime(instant, timeZone));
}
