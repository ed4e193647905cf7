import { applyCarEvent, type CarEvent, type CarFacts, NOTHING_WRONG } from '../clearance/car-facts.ts';
import { applyClearanceEvent, type ClearanceEvent, type ClearanceFacts, NOTHING_YET } from '../clearance/clearance.ts';
import { type AdmissionDays, type ClearanceAnswer, decideClearance } from '../clearance/decide-clearance.ts';
import { wetAt, type WetStep } from '../clearance/wet-tyres.ts';

/** What a webhook can ask for. A type is never renamed; new ones may come. */
export const MESSAGE_TYPES = [
  'inspection.submitted',
  'entry.signed-off',
  'entry.withdrawn',
  'hold.placed',
  'hold.lifted',
  'condition.fell-due',
  'concession.granted',
  'concession.revoked',
  'clearance.changed',
] as const;
export type MessageType = (typeof MESSAGE_TYPES)[number];

const OF_ACTION: Readonly<Record<string, MessageType>> = {
  'inspection.submitted': 'inspection.submitted',
  'entry.signed-off': 'entry.signed-off',
  'entry.withdrawn': 'entry.withdrawn',
  'hold.placed': 'hold.placed',
  'hold.lifted': 'hold.lifted',
  'condition.fell-due': 'condition.fell-due',
  'concession.revoked': 'concession.revoked',
};

/** The action of a history row of an event that says for a run group whether the track is wet: `{ runGroupId, wet }`. */
export const WET_SWITCHED = 'run-group.wet-switched';

/** Facts of a history row that a message may carry: ids and words of ours, nothing that anybody typed about a person. */
const CARRIED = [
  'inspectionId',
  'revision',
  'verdict',
  'signOffId',
  'decision',
  'holdId',
  'conditionId',
  'concessionId',
  'ruleId',
] as const;

/** A history row as far as messages need it. */
export interface ToldRow {
  historyId: string;
  action: string;
  at: Date;
  data: unknown;
  /** its number in the history of the event: the index of its leaf plus 1 */
  eventSeq: number;
  /** hash of its leaf; of its link where it was written to a chain of the event (SHA-256, hex) */
  eventHash: string;
}

export interface Message {
  /** the same over all attempts and replays; letters, digits and underscores */
  messageId: string;
  type: MessageType;
  /** what is signed and sent, as JSON text */
  body: string;
}

/** Whether a history row can cause a message: it is of a kind that is told, or may have changed the clearance. */
export function mayTell(action: string, hasEvent: boolean): boolean {
  return hasEvent || Object.hasOwn(OF_ACTION, action) || action === 'clearance.expired' || action === WET_SWITCHED;
}

/** What happened to an entry up to the row that tells, which is the last of the rows of its subject. */
export interface Story {
  of: 'entry' | 'car' | 'group';
  /** of the entry, oldest first; those written after the row that tells may be among them when it is the car's */
  rows: readonly ToldRow[];
  /** of its car, from the first on; those written after the row that tells may be among them when it is the entry's */
  carRows: readonly ToldRow[];
  /** rows that say for its run group whether the track is wet; the last one tells where the story is of the group */
  wetRows: readonly ToldRow[];
  runGroup: string;
  days: AdmissionDays;
}

/**
 * The messages that a history row causes for an entry: none, one or two. Pure: the same story gives the same messages, byte
 * for byte, however often and however late they are made.
 *
 * `status` and `admit` are what the gate said right after the row. Whether the clearance changed is decided against what
 * the gate said right after what happened before, so an end by the clock is told with the row that notes it. A row about
 * the car tells a kind of its own only at the entry where it happened.
 */
export function messagesOf(entry: { eventId: string; entryId: string; carNumber: string }, story: Story): Message[] {
  const told = story[TELLS[story.of]].at(-1);
  if (told === undefined) return [];
  const now = answerOf(story, upTo(story, told), told.at);
  const before = beforeRow(story, told);
  // Entered later than the track was said to be wet or dry: nothing changed for it.
  if (story.of === 'group' && before.rows.length === 0) return [];
  const last = [...before.rows, ...before.carRows, ...before.wetRows].reduce<Date | undefined>(laterOf, undefined);
  const was = last === undefined ? undefined : answerOf(story, before, last);
  const own = tellsOwn(story, told, entry.entryId) ? typeOf(told) : undefined;
  const messages: Message[] = [];
  if (own !== undefined) messages.push(messageOf(own, told, { ...entry, ...stateOf(now), ...carried(told) }));
  if (was !== undefined && (was.status !== now.status || was.admit !== now.admit)) {
    const facts = { ...entry, ...stateOf(now), previousStatus: was.status };
    messages.push(messageOf('clearance.changed', told, facts, story.of === 'entry' ? undefined : entry.entryId));
  }
  return messages;
}

type Rows = Pick<Story, 'rows' | 'carRows' | 'wetRows'>;

const TELLS = { entry: 'rows', car: 'carRows', group: 'wetRows' } as const;

const laterOf = (latest: Date | undefined, { at }: ToldRow): Date =>
  latest === undefined || at > latest ? at : latest;

/** How many rows of the car were written before a row of the entry. */
function carSeqOf({ data }: ToldRow): number {
  const seq = asRecord(data)['carSeq'];
  return typeof seq === 'number' ? seq : 0;
}

/** With what the other subject had written by then. The rows of a car are numbered without gaps from 1. */
function upTo({ of, rows, carRows, wetRows: allWet }: Story, told: ToldRow): Rows {
  // Written under the lock of the event and not of the entry: only time puts these beside the others.
  const byThen = (row: ToldRow): boolean => row.at <= told.at;
  const wetRows = allWet.filter(byThen);
  if (of === 'group') return { rows: rows.filter(byThen), carRows: carRows.filter(byThen), wetRows };
  if (of === 'entry') return { rows, carRows: carRows.slice(0, carSeqOf(told)), wetRows };
  return { rows: rows.filter((row) => carSeqOf(row) < carRows.length), carRows, wetRows };
}

/** The story without the row that tells. */
function beforeRow(story: Story, told: ToldRow): Rows {
  const all = upTo(story, told);
  const telling = TELLS[story.of];
  return { ...all, [telling]: all[telling].slice(0, -1) };
}

function answerOf({ runGroup, days }: Story, { rows, carRows, wetRows }: Rows, at: Date): ClearanceAnswer {
  const facts = rows.reduce(applyRow, NOTHING_YET);
  const car = carRows.reduce(applyCarRow, NOTHING_WRONG);
  return decideClearance({ facts, car, runGroup, days, wet: wetAt(wetRows.map(toWetStep), at) }, at);
}

const toWetStep = ({ at, data }: ToldRow): WetStep => ({ at, wet: asRecord(data)['wet'] === true });

function tellsOwn({ of }: Story, { data }: ToldRow, entryId: string): boolean {
  return of === 'entry' || asRecord(data)['entryId'] === entryId || asRecord(eventOf(data))['entryId'] === entryId;
}

/** @param at the entry, where a row about its car tells several */
function messageOf(type: MessageType, row: ToldRow, facts: Readonly<Record<string, unknown>>, at?: string): Message {
  const suffix = `${type === 'clearance.changed' ? '_clearance' : ''}${at === undefined ? '' : `_${at.replaceAll('-', '')}`}`;
  const history = { seq: row.eventSeq, hash: row.eventHash };
  const body = JSON.stringify({ type, timestamp: row.at.toISOString(), data: { ...facts, history } });
  return { messageId: `msg_${row.historyId.replaceAll('-', '')}${suffix}`, type, body };
}

/** A concession that waits for a second person is not granted yet; the approval is what grants it. */
function typeOf({ action, data }: ToldRow): MessageType | undefined {
  if (action === 'concession.granted' || action === 'concession.approved') {
    return eventOf(data) === undefined ? undefined : 'concession.granted';
  }
  return Object.hasOwn(OF_ACTION, action) ? OF_ACTION[action] : undefined;
}

function stateOf({ status, admit, validUntil }: ClearanceAnswer) {
  return { status, admit, validUntil };
}

function carried({ data }: ToldRow): Record<string, unknown> {
  const known = { ...asRecord(eventOf(data)), ...asRecord(data) };
  return Object.fromEntries(CARRIED.filter((key) => known[key] !== undefined).map((key) => [key, known[key]]));
}

function applyRow(facts: ClearanceFacts, row: ToldRow): ClearanceFacts {
  const event = eventOf(row.data);
  return event === undefined ? facts : applyClearanceEvent(facts, event as ClearanceEvent);
}

function applyCarRow(facts: CarFacts, row: ToldRow): CarFacts {
  const event = eventOf(row.data);
  return event === undefined ? facts : applyCarEvent(facts, event as CarEvent);
}

// History is written by us only, and `event` is always one of ours.
function eventOf(data: unknown): ClearanceEvent | CarEvent | undefined {
  return asRecord(data)['event'] as ClearanceEvent | CarEvent | undefined;
}

function asRecord(value: unknown): Record<string, unknown> {
  return typeof value === 'object' && value !== null ? (value as Record<string, unknown>) : {};
}
