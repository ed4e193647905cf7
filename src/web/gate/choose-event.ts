import { call } from '../api/call.ts';
import { listEvents } from '../api/operations.ts';
import { isOn } from '../shared/times.ts';
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

function nearest(events: readonly KeptEvent[], now: Date): readonly KeptEvent[] {
  const away = ({ startsOn }: KeptEvent) => Math.abs(Date.parse(startsOn) - now.getTime());
  return [...events].sort((a, b) => away(a) - away(b)).slice(0, 8);
}
