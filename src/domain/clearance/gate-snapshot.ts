import type { Rescue } from '../car/rescue.ts';
import { dateOf, epochMs, type Instant } from '../calendar.ts';
import type { CarFacts } from './car-happenings.ts';
import type { ClearanceFacts, ClearanceStatus, Decided, Declared } from './clearance.ts';
import {
  type AdmissionDays,
  type ClearanceAnswer,
  type ClearanceState,
  decideClearance,
  entryHoldText,
} from './decide-clearance.ts';
import type { WetTyres } from './wet-tyres.ts';
import { type LookAlike, lookAlikesOf, similarNumbers } from '../look-alikes.ts';

/** `typ` of the signed list (RFC 7515, section 4.1.9): nothing else that the same keys sign can pass for one. */
export const SNAPSHOT_TYPE = 'gridworthy-gate+jwt';

/**
 * What decides a clearance, without ids: nobody needs them to answer without a network. Instants as in
 * `ClearanceFacts`; what is absent is empty or false.
 */
export interface GateFacts {
  withdrawn?: boolean | undefined;
  /** `wet`: whether the tyres are fit for a wet track; absent: not known */
  declared?: { bars: readonly GateBar[]; wet?: WetTyres | undefined } | undefined;
  reinspect?: string | undefined;
  signOff?: Omit<Decided, 'signOffId' | 'stickerNumber'> | undefined;
  conditions?: readonly GateCondition[] | undefined;
  /** reasons of the holds that stand */
  holds?: readonly string[] | undefined;
  /** what is wrong with the car, wherever it was found */
  car?: GateCar | undefined;
}

/** As `CarFacts`; `in` is the run group in which it was found. */
export interface GateCar {
  holds?: readonly { reason: string; in: string }[] | undefined;
  refusals?: readonly { note?: string | undefined; in: string }[] | undefined;
  recalls?: readonly { reason: string; in: string }[] | undefined;
  conditions?: readonly (GateCondition & { in: string })[] | undefined;
  voidStickers?: readonly string[] | undefined;
}

export interface GateBar {
  title: string;
  concededUntil?: Instant | undefined;
  condition?: string | undefined;
}

export interface GateCondition {
  text: string;
  dueAt?: Instant | undefined;
}

/** An entry in the list; `group` is a place in `runGroups`, from 0. */
export interface SnapshotEntry {
  carNumber: string;
  group: number;
  /** the car as a marshal would know it; lists of before have neither */
  vehicle?: string | undefined;
  colour?: string | undefined;
  /** for rescuers; only in lists that were asked for with it, and there at every entry */
  rescue?: Rescue | undefined;
  facts: GateFacts;
}

/**
 * All that a gate needs to answer for an event without a network. Instants are RFC 3339 in UTC.
 */
export interface GateSnapshot {
  iss: string;
  eventId: string;
  name: string;
  /** when it was made; before it, the device's clock is wrong */
  asOf: Instant;
  /** exclusive: from here on it answers nothing */
  staleAfter: Instant;
  /** all of the event's history up to this row is in it; the root of the tree over these rows; 0 and '' without any */
  seq: number;
  head: string;
  /** the newest hold that was ever placed, `number` counting from 1: to compare by radio */
  newestHold: { number: number; carNumber: string; reason: string; at: Instant } | null;
  /**
   * The event's days at its venue: `from` inclusive, `until` exclusive; outside of them nobody is admitted, nor from
   * `cancelled.at` on. A page that does not know `cancelled` refuses the list and cannot tell.
   */
  days: { from: Instant; until: Instant; cancelled?: { at: Instant; reason: string } | undefined };
  /** `wet`: the track is wet for this group; absent: it is not */
  runGroups: readonly { runGroupId: string; name: string; wet?: true | undefined }[];
  entries: readonly SnapshotEntry[];
}

/** What a device says of a car number by itself. Anything but `admit: true` means: do not admit. */
export interface OfflineAnswer {
  carNumber: string;
  admit: boolean;
  status: ClearanceStatus | 'unknown' | 'cannot-tell';
  /** one plain sentence */
  reason: string;
  /** of the list */
  asOf: Instant;
  /** until when `admit: true` holds as far as the list knows; null when the car is not admitted */
  validUntil: Instant | null;
  similar: readonly string[];
  /** other cars whose numbers can be taken for this one; never with a verdict */
  lookAlikes: readonly LookAlike[];
  entries: readonly OfflineEntry[];
}

export interface OfflineEntry extends Omit<ClearanceAnswer, 'conditions'> {
  runGroupId: string;
  runGroup: string;
  vehicle?: string | undefined;
  colour?: string | undefined;
  rescue?: Rescue | undefined;
  conditions: readonly GateCondition[];
}

/** The facts as the list carries them. */
export function toGateFacts(facts: ClearanceFacts, carFacts: CarFacts): GateFacts {
  const car = toGateCar(carFacts);
  const { withdrawn, declared, reinspect, signOff, conditions, holds } = facts;
  return {
    ...(withdrawn ? { withdrawn } : {}),
    ...(declared === undefined ? {} : { declared: toGateDeclared(declared) }),
    ...(reinspect === undefined ? {} : { reinspect }),
    ...(signOff === undefined ? {} : { signOff: toGateSignOff(signOff) }),
    ...(conditions.length === 0 ? {} : { conditions: conditions.map(({ text, dueAt }) => ({ text, dueAt })) }),
    ...(holds.length === 0 ? {} : { holds: holds.map(entryHoldText) }),
    ...(Object.keys(car).length === 0 ? {} : { car }),
  };
}

function toGateCar({ holds, refusals, recalls, conditions, voidStickers }: CarFacts): GateCar {
  return {
    ...(holds.length === 0 ? {} : { holds: holds.map(({ reason, runGroup }) => ({ reason, in: runGroup })) }),
    ...(refusals.length === 0 ? {} : { refusals: refusals.map(({ note, runGroup }) => ({ note, in: runGroup })) }),
    ...(recalls.length === 0 ? {} : { recalls: recalls.map(({ reason, runGroup }) => ({ reason, in: runGroup })) }),
    ...(conditions.length === 0
      ? {}
      : { conditions: conditions.map(({ text, dueAt, runGroup }) => ({ text, dueAt, in: runGroup })) }),
    ...(voidStickers.length === 0 ? {} : { voidStickers }),
  };
}

const toGateDeclared = ({ bars, wet }: Declared): GateFacts['declared'] => ({
  bars: bars.map(toGateBar),
  ...(wet === undefined ? {} : { wet }),
});

const toGateBar = ({ title, concededUntil, condition }: GateBar): GateBar => ({ title, concededUntil, condition });

function toGateSignOff({ decision, note, validFrom, validUntil }: Decided): GateFacts['signOff'] {
  return { decision, note, validFrom, validUntil };
}

/** What `decideClearance` reads, as it was; ids are empty. */
export function stateFromList(
  facts: GateFacts,
  { name: runGroup, wet }: Pick<GateSnapshot['runGroups'][number], 'name' | 'wet'>,
  days: GateSnapshot['days'],
): ClearanceState {
  return {
    facts: fromGateFacts(facts),
    car: fromGateCar(facts.car ?? {}),
    runGroup,
    days: daysFromList(days),
    wet: wet === true,
  };
}

function daysFromList({ from, until, cancelled }: GateSnapshot['days']): AdmissionDays {
  const days = { from: dateOf(from), until: dateOf(until) };
  return cancelled === undefined ? days : { ...days, cancelled: { ...cancelled, at: dateOf(cancelled.at) } };
}

function fromGateCar({ holds, refusals, recalls, conditions, voidStickers }: GateCar): CarFacts {
  const at = (runGroup: string) => ({ entryId: '', runGroup });
  return {
    holds: (holds ?? []).map(({ reason, in: found }) => ({ ...at(found), holdId: '', reason })),
    refusals: (refusals ?? []).map(({ note, in: found }) => ({ ...at(found), signOffId: '', note })),
    recalls: (recalls ?? []).map(({ reason, in: found }) => ({ ...at(found), reason })),
    conditions: (conditions ?? []).map(({ text, dueAt, in: found }) => ({ ...at(found), id: '', text, dueAt })),
    voidStickers: voidStickers ?? [],
  };
}

function fromGateFacts(facts: GateFacts): ClearanceFacts {
  const { declared, signOff } = facts;
  const unnamed = { inspectionId: '', revision: 0, verdict: 'clean' } as const;
  return {
    withdrawn: facts.withdrawn ?? false,
    declared: declared && { ...unnamed, bars: declared.bars.map((bar) => ({ ...bar, ruleId: '' })), wet: declared.wet },
    reinspect: facts.reinspect,
    signOff: signOff && { ...signOff, signOffId: '' },
    conditions: (facts.conditions ?? []).map((condition) => ({ ...condition, id: '' })),
    holds: (facts.holds ?? []).map((reason) => ({ holdId: '', reason })),
  };
}

/**
 * Answers for a car number, exactly as typed, from a list that was verified. Pure: the clock alone can change the
 * answer, and does so as it would at the server (a condition falls due, a concession or sign-off ends).
 *
 * Fail closed: from `staleAfter` on, before `asOf`, and without a readable clock it cannot tell, which never admits.
 *
 * @param now the device's clock, corrected by what the server last said where that is known (UTC)
 * @param runGroupId only the entry in this run group: for a shared car at one session
 * @throws RangeError when an instant in the list is none
 */
export function answerOffline(
  snapshot: GateSnapshot,
  carNumber: string,
  now: Date,
  runGroupId?: string,
): OfflineAnswer {
  const fault = clockFault(snapshot, now);
  if (fault !== undefined) return no(snapshot, carNumber, { status: 'cannot-tell', reason: fault });
  const entries = snapshot.entries
    .filter((entry) => entry.carNumber === carNumber)
    .map((entry) => decideOffline(snapshot, entry, now))
    .filter((entry) => runGroupId === undefined || entry.runGroupId === runGroupId);
  const deciding = entries.find((entry) => !entry.admit) ?? entries[0];
  if (deciding === undefined) return unknownOffline(snapshot, carNumber);
  const prefix = entries.length > 1 && !deciding.admit ? `${deciding.runGroup}: ` : '';
  return {
    carNumber,
    admit: deciding.admit,
    status: deciding.status,
    reason: prefix + deciding.reason,
    asOf: snapshot.asOf,
    validUntil: deciding.admit
      ? earliest([snapshot.staleAfter, ...entries.flatMap((one) => one.validUntil ?? [])])
      : null,
    similar: [],
    lookAlikes: lookAlikesOf(carNumber, snapshot.entries),
    entries,
  };
}

/** Why the list cannot be used at this instant; undefined when it can. */
export function clockFault({ asOf, staleAfter }: GateSnapshot, now: Date): string | undefined {
  const ms = now.getTime();
  if (ms >= epochMs(staleAfter)) return `Cannot tell: the list of ${asOf} could be used until ${staleAfter}.`;
  // Not "before": a clock that cannot be read is neither before nor after anything.
  if (!(ms >= epochMs(asOf))) return `Cannot tell: the clock of this device is behind the list, which is of ${asOf}.`;
  return undefined;
}

function decideOffline({ runGroups, days }: GateSnapshot, entry: SnapshotEntry, now: Date): OfflineEntry {
  const { group, facts, vehicle, colour, rescue } = entry;
  const runGroup = runGroups[group] ?? { runGroupId: '', name: '' };
  const { runGroupId, name } = runGroup;
  const answer = decideClearance(stateFromList(facts, runGroup, days), now);
  const conditions = answer.conditions.map(({ text, dueAt }) => ({ text, dueAt }));
  return { ...answer, runGroupId, runGroup: name, vehicle, colour, rescue, conditions };
}

function unknownOffline(snapshot: GateSnapshot, carNumber: string): OfflineAnswer {
  const similar = similarNumbers(
    carNumber,
    snapshot.entries.map((entry) => entry.carNumber),
  );
  const meant = similar.length === 0 ? '' : ` Similar numbers: ${similar.join(', ')}.`;
  const reason = `No car with the number ${carNumber} is on this list.${meant}`;
  const lookAlikes = lookAlikesOf(carNumber, snapshot.entries);
  return { ...no(snapshot, carNumber, { status: 'unknown', reason }), similar, lookAlikes };
}

function no(
  { asOf }: GateSnapshot,
  carNumber: string,
  why: { status: 'unknown' | 'cannot-tell'; reason: string },
): OfflineAnswer {
  return { carNumber, admit: false, ...why, asOf, validUntil: null, similar: [], lookAlikes: [], entries: [] };
}

function earliest(ends: readonly Instant[]): Instant | null {
  return ends.reduce<Instant | null>((a, b) => (a === null || epochMs(b) < epochMs(a) ? b : a), null);
}
