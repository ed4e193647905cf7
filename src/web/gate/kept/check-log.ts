import { v7 as uuidV7 } from 'uuid';
import { ApiProblem, call, isTransient } from '../../api/call.ts';
import { type GateAnswer, uploadGateChecks } from '../../api/operations.ts';
import type { Stop } from '../../shared/stops.ts';
import { admits, type Answer, type IsRefused, type Status } from '../answer/answer.ts';
import type { GateList } from './gate-list.ts';
import type { TrustedClock } from './trusted-clock.ts';
import { addToLog, countLog, type LoggedCheck, readLog, removeFromLog } from './gate-store.ts';

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

const EVERY_MS = 15_000;
/** While there is no contact the server is looked for more often: what comes back is wanted at once. */
const SEARCH_MS = 5000;

interface Kept {
  sync(): Promise<void>;
  contact: { value: Contact };
  clock: TrustedClock;
}

/** Asks again and again while the page is seen, and at once when something says that it may work now. @returns the end of it */
export function keepInTouch({ sync, contact, clock }: Kept): () => void {
  let timer: ReturnType<typeof setTimeout> | undefined;
  const again = () => {
    clearTimeout(timer);
    timer = setTimeout(turn, contact.value === 'offline' ? SEARCH_MS : EVERY_MS);
  };
  const turn = () => {
    clock.jumped();
    void (document.visibilityState === 'visible' ? sync() : Promise.resolve()).finally(again);
  };
  const onVisibility = () => {
    if (document.visibilityState === 'hidden') clock.hidden();
    else turn();
  };
  const onOffline = () => {
    if (contact.value !== 'no-access') contact.value = 'offline';
  };
  document.addEventListener('visibilitychange', onVisibility);
  addEventListener('online', turn);
  addEventListener('offline', onOffline);
  turn();
  return () => {
    clearTimeout(timer);
    document.removeEventListener('visibilitychange', onVisibility);
    removeEventListener('online', turn);
    removeEventListener('offline', onOffline);
  };
}

const AT_ONCE = 200;

/**
 * Writes down what this device answered by itself. What the server answered is in the server's own log.
 *
 * @throws when it cannot be written
 */
export async function logCheck(eventId: string, answer: Answer, at: Date, snapshotSeq: number): Promise<void> {
  const clientId = uuidV7();
  const { carNumber, runGroupId, status, kind } = answer;
  await addToLog({
    clientId,
    eventId,
    check: {
      clientId,
      carNumber,
      ...(runGroupId === undefined ? {} : { runGroupId }),
      askedAt: at.toISOString(),
      admit: admits(kind),
      status,
      snapshotSeq,
    },
  });
}

/**
 * Sends what was not sent yet, in parts; a part leaves the device when the server said that it has it. Sent twice, the
 * server knows each check by its id.
 *
 * @returns checks that are still to be sent
 * @throws ApiProblem, Unreachable
 */
export async function uploadLog(token: string): Promise<number> {
  for (let part = await readLog(AT_ONCE); part.length > 0; part = await readLog(AT_ONCE)) {
    for (const [eventId, entries] of byEvent(part)) {
      await uploadPart(token, eventId, entries);
      await removeFromLog(entries.map(({ clientId }) => clientId));
    }
  }
  return countLog();
}

async function uploadPart(token: string, eventId: string, entries: readonly LoggedCheck[]): Promise<void> {
  const checks = entries.map(({ check }) => check);
  try {
    await call(uploadGateChecks, { params: { eventId }, body: { checks } }, { token });
  } catch (error) {
    // The event is gone from the server, so there is nobody left to tell. Anything else is kept and tried again.
    if (!(error instanceof ApiProblem && error.status === 404)) throw error;
  }
}

function byEvent(entries: readonly LoggedCheck[]): Map<string, LoggedCheck[]> {
  const events = new Map<string, LoggedCheck[]>();
  for (const entry of entries) events.set(entry.eventId, [...(events.get(entry.eventId) ?? []), entry]);
  return events;
}
