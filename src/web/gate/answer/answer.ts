import type { GateAnswer } from '../../api/operations.ts';
import { answerOffline, type GateSnapshot, type OfflineAnswer } from '../../../domain/clearance/gate-snapshot.ts';
import type { LastSafe } from '../../../domain/prepare/wear-outlook.ts';
import { isTwin, type LookAlike, type NumberedCar } from '../../../domain/look-alikes.ts';
import type { Rescue } from '../../../domain/car/rescue.ts';
import type { Stop } from '../../shared/stops.ts';
import type { Span } from '../kept/trusted-clock.ts';

/** The five things that a gate can say. Only the first two let a car through. */
export const KINDS = ['go', 'conditions', 'stop', 'not-listed', 'cannot-tell'] as const;
export type Kind = (typeof KINDS)[number];

export type Status = OfflineAnswer['status'];

export interface AnswerEntry {
  runGroupId: string;
  runGroup: string;
  admit: boolean;
  status: Status;
  reason: string;
  validUntil: string | null;
  conditions: readonly { text: string; dueAt?: string | undefined }[];
  vehicle?: string | undefined;
  colour?: string | undefined;
  rescue?: Rescue | undefined;
  /** as the server says it; a list on the device has none */
  lastSafe?: LastSafe | undefined;
}

/** Why this device cannot tell, where neither the server nor the list says it. */
export type NoTelling = 'no-list' | 'stale' | 'clock' | 'no-access' | 'no-log' | 'refused';

export interface Answer {
  carNumber: string;
  /** the run group asked for; undefined: all that the number is entered in */
  runGroupId: string | undefined;
  kind: Kind;
  status: Status;
  reason: string;
  source: 'server' | 'list' | 'device';
  validUntil: string | null;
  similar: readonly string[];
  lookAlikes: readonly LookAlike[];
  entries: readonly AnswerEntry[];
  why?: NoTelling | undefined;
  /** what the list said while it could be used: to read, never to admit by */
  lastKnown?: { status: Status; reason: string; asOf: string } | undefined;
  /** the car was stopped on this device, and the server did not know when this was answered */
  stop?: Stop | undefined;
}

export interface Asked {
  carNumber: string;
  runGroupId?: string | undefined;
}

/** The cars among which somebody must choose before there is an answer; none where the number has no twin. */
export function twinsIn({ carNumber, entries, lookAlikes }: Answer): NumberedCar[] {
  const others = lookAlikes.filter(isTwin);
  const [own] = entries;
  return own === undefined || others.length === 0 ? [] : [{ ...own, carNumber }, ...others];
}

export function kindOf(status: Status): Kind {
  switch (status) {
    case 'clear':
      return 'go';
    case 'clear-with-conditions':
      return 'conditions';
    case 'unknown':
      return 'not-listed';
    case 'cannot-tell':
      return 'cannot-tell';
    default:
      return 'stop';
  }
}

export function fromServer(body: GateAnswer, asked: Asked): Answer {
  // Both must say yes: a status that this version does not know never admits.
  const kind = kindOf(body.status);
  return {
    ...asked,
    runGroupId: asked.runGroupId,
    kind: admits(kind) === body.admit ? kind : 'stop',
    status: body.status,
    reason: body.reason,
    source: 'server',
    validUntil: body.validUntil,
    similar: body.similar,
    lookAlikes: body.lookAlikes,
    entries: body.entries,
  };
}

export const admits = (kind: Kind): boolean => kind === 'go' || kind === 'conditions';

export function cannotTell(asked: Asked, why: NoTelling, details: Partial<Answer> = {}): Answer {
  return {
    carNumber: asked.carNumber,
    runGroupId: asked.runGroupId,
    kind: 'cannot-tell',
    status: 'cannot-tell',
    reason: '',
    source: 'list',
    validUntil: null,
    similar: [],
    lookAlikes: [],
    entries: [],
    why,
    ...details,
  };
}

/**
 * The answer of the list. It must hold at both ends of what the time may be: where they differ, the "no" counts. What
 * the server refused after the list was made stays refused.
 */
export function fromList(snapshot: GateSnapshot, asked: Asked, at: Span, isRefused: IsRefused): Answer {
  const { carNumber, runGroupId } = asked;
  const [early, late] = [at.from, at.to].map((now) => answerOffline(snapshot, carNumber, now, runGroupId));
  // Two instants give two answers.
  const answer = (late?.admit ? early : late) as OfflineAnswer;
  if (answer.status === 'cannot-tell') {
    const why = at.to.getTime() >= Date.parse(snapshot.staleAfter) ? 'stale' : 'clock';
    return cannotTell(asked, why, { lastKnown: lastKnownOf(snapshot, asked) });
  }
  const entries = answer.entries.map((entry) => withRefusal(carNumber, entry, isRefused));
  const refused = answer.admit ? entries.find(({ admit }) => !admit) : undefined;
  const deciding = refused ?? answer;
  const named = refused !== undefined && entries.length > 1 ? `${refused.runGroup}: ` : '';
  return {
    carNumber,
    runGroupId,
    kind: kindOf(deciding.status),
    status: deciding.status,
    reason: named + deciding.reason,
    source: 'list',
    validUntil: deciding.validUntil,
    similar: answer.similar,
    lookAlikes: answer.lookAlikes,
    entries,
  };
}

/** The answer on a device on which the car was stopped: no, whoever says otherwise, until the server knows of it. */
export function withStop(answer: Answer, stops: readonly Stop[]): Answer {
  const stop = stops.find(({ carNumber }) => carNumber === answer.carNumber);
  if (stop === undefined) return answer;
  const stopped = { status: 'held', reason: stop.reason, validUntil: null } as const;
  const entries = answer.entries.map((entry) => ({ ...entry, ...stopped, admit: false, conditions: [] }));
  const nothing = { why: undefined, lastKnown: undefined, similar: [] };
  return { ...answer, ...stopped, ...nothing, kind: 'stop', source: 'device', entries, stop };
}

function withRefusal(carNumber: string, entry: AnswerEntry, isRefused: IsRefused): AnswerEntry {
  const refused = entry.admit ? isRefused(carNumber, entry.runGroupId) : undefined;
  if (refused === undefined) return entry;
  return { ...entry, admit: false, status: refused.status, reason: refused.reason, validUntil: null };
}

/** What the server said of an entry after the list was made, where that was no. */
export type IsRefused = (carNumber: string, runGroupId: string) => { status: Status; reason: string } | undefined;

/** What the list said in its last moment. */
export function lastKnownOf(snapshot: GateSnapshot, { carNumber, runGroupId }: Asked): Answer['lastKnown'] {
  const last = new Date(Math.max(Date.parse(snapshot.staleAfter) - 1, Date.parse(snapshot.asOf)));
  const { status, reason, asOf } = answerOffline(snapshot, carNumber, last, runGroupId);
  return status === 'cannot-tell' ? undefined : { status, reason, asOf };
}
