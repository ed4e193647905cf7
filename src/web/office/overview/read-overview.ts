import { call } from '../../api/call.ts';
import {
  type ContradictionList,
  getEventReadiness,
  getGateSnapshot,
  listGateContradictions,
  type ReadinessView,
} from '../../api/operations.ts';
import type { GateSnapshot } from '../../../domain/gate-snapshot.ts';
import type { Desk } from '../parts/desk.ts';

export interface OverviewData {
  readiness: ReadinessView;
  contradictions: ContradictionList['contradictions'];
  newestHold: GateSnapshot['newestHold'];
}

/** All that the overview shows, read at once. */
export async function readOverview({ eventId, token }: Desk, signal: AbortSignal): Promise<OverviewData> {
  const params = { eventId };
  const options = { token, signal };
  const [readiness, contradictions, list] = await Promise.all([
    call(getEventReadiness, { params }, options),
    call(listGateContradictions, { params, query: { limit: 50 } }, options),
    call(getGateSnapshot, { params }, options),
  ]);
  return {
    readiness: readiness.body,
    contradictions: contradictions.body.contradictions,
    newestHold: list.status === 200 ? payloadOf(await textOf(list.body)).newestHold : null,
  };
}

const textOf = async (body: string | Blob): Promise<string> => (typeof body === 'string' ? body : body.text());

/** What a signed list says. Not verified: it came from the server itself, and nothing is admitted by it here. */
function payloadOf(signed: string): GateSnapshot {
  const payload = (signed.split('.')[1] ?? '').replaceAll('-', '+').replaceAll('_', '/');
  const bytes = Uint8Array.from(atob(payload), (letter) => letter.codePointAt(0) ?? 0);
  return JSON.parse(new TextDecoder().decode(bytes)) as GateSnapshot;
}
