import type { EventView } from './schemas.ts';
import type { StoredEvent } from './store.ts';

/** The event as callers see it at an instant: the declaration window is open from its start until before its end. */
export function toEventView({ rev: _rev, ...event }: StoredEvent, now: Date): EventView {
  return {
    ...event,
    declarationsOpenAt: event.declarationsOpenAt.toISOString(),
    declarationsCloseAt: event.declarationsCloseAt.toISOString(),
    declarations: windowState(event.declarationsOpenAt, event.declarationsCloseAt, now),
    createdAt: event.createdAt.toISOString(),
  };
}

function windowState(opensAt: Date, closesAt: Date, now: Date): EventView['declarations'] {
  if (now < opensAt) return 'not-open';
  return now < closesAt ? 'open' : 'closed';
}
