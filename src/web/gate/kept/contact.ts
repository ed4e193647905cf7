import { ApiProblem, isTransient } from '../../api/call.ts';
import type { GateAnswer } from '../../api/operations.ts';
import type { Stop } from '../../shared/stops.ts';
import type { IsRefused, Status } from '../answer/answer.ts';
import type { GateList } from './gate-list.ts';
import type { TrustedClock } from './trusted-clock.ts';

export type Contact = 'starting' | 'online' | 'offline' | 'no-access';

/** What the parts of a gate share. */
export interface GateState {
  readonly eventId: string;
  readonly token: string;
  readonly clock: TrustedClock;
  readonly contact: { value: Contact };
  readonly list: { readonly value: GateList | undefined };
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

export interface Refusal {
  carNumber: string;
  runGroupId: string;
  status: Status;
  reason: string;
  /** when the server said so (its clock) */
  at: number;
}

/**
 * The server's refusals that may be newer than the list: without them a device that was just told "held" would admit
 * the same car a minute later, when the network is gone. Never a yes is remembered.
 */
export function withAnswer(known: readonly Refusal[], { carNumber, asOf, entries }: GateAnswer): Refusal[] {
  const asked = new Set(entries.map(({ runGroupId }) => runGroupId));
  const others = known.filter((one) => one.carNumber !== carNumber || !asked.has(one.runGroupId));
  const refused = entries
    .filter(({ admit }) => !admit)
    .map(({ runGroupId, status, reason }) => ({ carNumber, runGroupId, status, reason, at: Date.parse(asOf) }));
  return [...others, ...refused];
}

/** @param confirmedAt when the server last said that the list is right: what it said before that is in the list */
export function stillNewer(known: readonly Refusal[], confirmedAt: number): Refusal[] {
  return known.filter(({ at }) => at >= confirmedAt);
}

export function refusedIn(known: readonly Refusal[]): IsRefused {
  return (carNumber, runGroupId) => known.find((one) => one.carNumber === carNumber && one.runGroupId === runGroupId);
}
