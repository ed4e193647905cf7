import { call } from '../../api/call.ts';
import { listRunGroups, type RunGroupView } from '../../api/operations.ts';
import type { Desk } from '../parts/desk.ts';
import { type Load, useLoad } from '../parts/use-load.ts';

/** The run groups of the event. */
export function useGroups({ eventId, token }: Desk): Load<readonly RunGroupView[]> {
  return useLoad(`groups ${eventId}`, async (signal) => {
    const { body } = await call(listRunGroups, { params: { eventId } }, { token, signal });
    return body.runGroups;
  });
}
