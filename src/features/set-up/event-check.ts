import { daysBetween } from '../../domain/calendar.ts';
import { instrumentFaults } from '../../domain/line/instruments.ts';
import { type FieldError, ProblemError } from '../../http/frame/problem.ts';
import type { Tx } from '../../platform/database/db.ts';
import type { EventInput } from './event-schemas.ts';
import { hasVenue } from './event-store.ts';

const MAX_DAYS = 31;

/**
 * Checks what the fields of an event mean together.
 *
 * @throws ProblemError `not-acceptable` naming every place
 */
export async function assertEventMakesSense(db: Tx, event: EventInput): Promise<void> {
  const errors = [...dayFaults(event), ...windowFaults(event), ...readWithFaults(event)];
  if (!(await hasVenue(db, event.venueId))) {
    errors.push({ pointer: '/venueId', code: 'unknown-venue', detail: 'There is no such venue.', in: 'body' });
  }
  if (errors.length === 0) return;
  throw new ProblemError('not-acceptable', errors.map((fault) => `${fault.pointer}: ${fault.detail}`).join(' '), {
    errors,
  });
}

function dayFaults({ startsOn, endsOn }: EventInput): FieldError[] {
  const days = daysBetween(startsOn, endsOn) + 1;
  if (days < 1) {
    return [{ pointer: '/endsOn', code: 'days-reversed', detail: 'The last day is before the first.', in: 'body' }];
  }
  if (days <= MAX_DAYS) return [];
  const detail = `The event would have ${days} days; at most ${MAX_DAYS} are possible.`;
  return [{ pointer: '/endsOn', code: 'too-many-days', detail, in: 'body' }];
}

function windowFaults({ declarationsOpenAt, declarationsCloseAt }: EventInput): FieldError[] {
  if (Date.parse(declarationsOpenAt) < Date.parse(declarationsCloseAt)) return [];
  const detail = 'Declarations close before they open.';
  return [{ pointer: '/declarationsCloseAt', code: 'window-reversed', detail, in: 'body' }];
}

const readWithFaults = ({ instruments }: EventInput): FieldError[] =>
  instrumentFaults(instruments).map(({ at, detail }) => {
    return { pointer: ['/instruments', ...at].join('/'), code: 'not-usable', detail, in: 'body' };
  });
