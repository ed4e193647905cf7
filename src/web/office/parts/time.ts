import { currentLanguage } from '../../shared/text.ts';

const LOCALES = { en: 'en-GB', de: 'de-DE' } as const;

function format(instant: string, options: Intl.DateTimeFormatOptions): string {
  return new Intl.DateTimeFormat(LOCALES[currentLanguage()], options).format(new Date(instant));
}

/** Day and time at the venue, as the language writes it. */
export const dayAndTime = (instant: string, timeZone: string): string =>
  format(instant, { dateStyle: 'medium', timeStyle: 'short', timeZone });

/** Time of day at the venue, to the second. */
export const timeOfDay = (instant: string, timeZone: string): string =>
  format(instant, { timeStyle: 'medium', timeZone });
