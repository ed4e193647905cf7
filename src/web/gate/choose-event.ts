import { call } from '../api/call.ts';
import { listEvents } from '../api/operations.ts';
import type { KeptEvent } from './gate-store.ts';

/** The events that a gate may be for: those of today at their venues, or else all, the nearest first. */
export async function findEvents(token: string): Promise<{ today: boolean; events: readonly KeptEvent[] }> {
  const { body } = await call(listEvents, { query: { limit: 100 } }, { token });
  const now = new Date();
  const events = body.events.map(({ eventId, name, timeZone, startsOn, endsOn }) => ({
    eventId,
    name,
    timeZone,
    startsOn,
    endsOn,
  }));
  const today = events.filter((event) => isOn(event, now));
  return today.length > 0 ? { today: true, events: today } : { today: false, events: nearest(events, now) };
}

/** Whether a day of the event is today where it takes place. Texts of this form sort by date. */
export function isOn({ timeZone, startsOn, endsOn }: KeptEvent, now: Date): boolean {
  const day = dayAt(timeZone, now);
  return startsOn <= day && day <= endsOn;
}

/** `YYYY-MM-DD` in a time zone. */
function dayAt(timeZone: string, now: Date): string {
  return new Intl.DateTimeFormat('en-CA', { timeZone, year: 'numeric', month: '2-digit', day: '2-digit' }).format(now);
}

function nearest(events: readonly KeptEvent[], now: Date): readonly KeptEvent[] {
  const away = ({ startsOn }: KeptEvent) => Math.abs(Date.parse(startsOn) - now.getTime());
  return [...events].sort((a, b) => away(a) - away(b)).slice(0, 8);
}
