import type { LastSafe } from '../../domain/prepare/wear-outlook.ts';
import { currentLanguage, words } from './text.ts';
import { locale } from './times.ts';

/** The session by its name, with the weekday and time at the venue. */
function sessionText({ name, startsAt }: { name: string; startsAt: string }, timeZone: string): string {
  const parts = { weekday: 'long', hour: '2-digit', minute: '2-digit', hourCycle: 'h23' } as const;
  return `${name} (${new Intl.DateTimeFormat(locale(), { timeZone, ...parts }).format(new Date(startsAt))})`;
}

/** `Front brake pads: sure until Sunday's second session only`: which worn part ends first, as a sentence. */
export function lastSafeText({ wear, axle, sessions, session, limitMm }: LastSafe, timeZone: string): string {
  const part = words.t(`wear.${axle}.${wear}`);
  const limit = `${limitMm.toLocaleString(currentLanguage())} mm`;
  if (sessions === 0) return words.t('last-safe.none', { part, limit });
  if (session === undefined) return words.t('last-safe.count', { part, limit, count: sessions });
  return words.t('last-safe.until', { part, limit, session: sessionText(session, timeZone) });
}
