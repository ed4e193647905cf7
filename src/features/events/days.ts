import { startOfDay, startOfNextDay } from '../../domain/calendar.ts';
import type { AdmissionDays } from '../../domain/decide-clearance.ts';
import { canonicalHash } from '../../platform/canonical-json.ts';
import type { StoredEvent } from './store.ts';

/** What decides the days of an event. */
export type EventDays = Pick<StoredEvent, 'startsOn' | 'endsOn' | 'timeZone'>;

/** The days as instants. */
export function admissionDays({ startsOn, endsOn, timeZone }: EventDays): AdmissionDays {
  return { from: startOfDay(startsOn, timeZone), until: startOfNextDay(endsOn, timeZone) };
}

export function sameDays(a: EventDays, b: EventDays): boolean {
  const [one, other] = [admissionDays(a), admissionDays(b)];
  return one.from.getTime() === other.from.getTime() && one.until.getTime() === other.until.getTime();
}

/** Names a change of the days, from what to what: shown by the preview, asked for by the change. */
export function daysTag(eventId: string, from: EventDays, to: EventDays): string {
  const plain = ({ startsOn, endsOn, timeZone }: EventDays) => ({ startsOn, endsOn, timeZone });
  return canonicalHash({ eventId, from: plain(from), to: plain(to) });
}
