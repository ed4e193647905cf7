import { ApiProblem, isTransient } from '../api/call.ts';
import type { Stop } from '../shared/stops.ts';
import type { HeldList } from './held-list.ts';
import type { Refusal } from './refusals.ts';
import type { TrustedClock } from './trusted-clock.ts';

export type Contact = 'starting' | 'online' | 'offline' | 'no-access';

/** What the parts of a gate share. */
export interface GateState {
  readonly eventId: string;
  readonly token: string;
  readonly clock: TrustedClock;
  readonly contact: { value: Contact };
  readonly list: { readonly value: HeldList | undefined };
  refusals: readonly Refusal[];
  /** cars of this event that were stopped on this device and the server does not know of */
  readonly stops: () => readonly Stop[];
}

/** What a failed call says of the way to the server; undefined when it says nothing of it. */
export function contactAfter(error: unknown): Contact | undefined {
  if (isTransient(error)) return 'offline';
  if (!(error instanceof ApiProblem)) return undefined;
  return error.status === 401 || error.status === 403 ? 'no-access' : 'online';
}
