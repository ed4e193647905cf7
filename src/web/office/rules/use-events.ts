import { call } from '../../api/call.ts';
import { type EventView, listEvents } from '../../api/operations.ts';
import { type Load, useLoad } from '../parts/use-load.ts';

const MOST = 50;

/** The newest events, as many as a trial can take. */
export function useEvents(token: string): Load<readonly EventView[]> {
  return useLoad('events of a trial', async (signal) => {
    const { body } = await call(listEvents, { query: { limit: MOST } }, { token, signal });
    return body.events;
  });
}
