import { applyCarHappening, type CarFacts, type CarHappening, NOTHING_WRONG } from '../clearance/car-happenings.ts';
import { applyEntryHappening, type ClearanceFacts, type EntryHappening, NOTHING_YET } from '../clearance/clearance.ts';
import { type AdmissionDays, type ClearanceAnswer, decideClearance } from '../clearance/decide-clearance.ts';
import { wetAt, type WetStep } from '../clearance/wet-tyres.ts';

/** How messages to a webhook are written: as they are, or as events of CloudEvents 1.0 in the structured mode. */
export const MESSAGE_FORMATS = ['plain', 'cloudevents'] as const;
export type MessageFormat = (typeof MESSAGE_FORMATS)[number];

/** Media types of the formats; of the second as the HTTP binding of CloudEvents 1.0.2 (3.2.1) has it. */
export const FORMAT_TYPES: Readonly<Record<MessageFormat, string>> = {
  plain: 'application/json',
  cloudevents: 'application/cloudevents+json; charset=utf-8',
};

interface Plain {
  type: string;
  timestamp: string;
  data: { eventId?: string; entryId?: string; webhookId?: string };
}

/**
 * The text of a message in a format: the same message, the same text, byte for byte.
 *
 * `id` and `source` together are unique over all attempts and replays, as CloudEvents 1.0.2 (3.1.1) asks: the source is the
 * race event that it is about. `subject` is the entry.
 *
 * @param message `body` as JSON text of `{ type, timestamp, data }`
 * @param base the server's public address; empty: the source is a reference without one, which the standard allows
 */
export function inFormat(
  format: MessageFormat,
  { messageId, body }: { messageId: string; body: string },
  base: string,
): string {
  if (format === 'plain') return body;
  // As we wrote it.
  const { type, timestamp, data } = JSON.parse(body) as Plain;
  const { eventId, entryId, webhookId } = data;
  return JSON.stringify({
    specversion: '1.0',
    id: messageId,
    source: `${base}/v1/${eventId === undefined ? `webhooks/${webhookId ?? ''}` : `events/${eventId}`}`,
    type,
    ...(entryId !== undefined && { subject: `entries/${entryId}` }),
    time: timestamp,
    datacontenttype: 'application/json',
    data,
  });
}

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
export interface PublishedRow {
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

/** Whether a history row can cause a message: it is of a kind that is published, or may have changed the clearance. */
export function mayPublish(action: string, hasEvent: boolean): boolean {
  return hasEvent || Object.hasOwn(OF_ACTION, action) || action === 'clearance.expired' || action === WET_SWITCHED;
}

/** What happened to an entry up to the row that is published, which is the last of the rows of its subject. */
export interface Story {
  of: 'entry' | 'car' | 'group';
  /** of the entry, oldest first; rows written after it may be among them when it is the car's */
  rows: readonly PublishedRow[];
  /** of its car, from the first on; rows written after it may be among them when it is the entry's */
  carRows: readonly PublishedRow[];
  /** rows that say for its run group whether the track is wet; the last one is published where the story is of the group */
  wetRows: readonly PublishedRow[];
  runGroup: string;
  days: AdmissionDays;
}

/**
 * The messages that a history row causes for an entry: none, one or two. Pure: the same story gives the same messages, byte
 * for byte, however often and however late they are made.
 *
 * `status` and `admit` are what the gate said right after the row. Whether the clearance changed is decided against what
 * the gate said right after what happened before, so an end by the clock goes with the row that notes it. A row about
 * the car is published under a kind of its own only at the entry where it happened.
 */
export function messagesOf(entry: { eventId: string; entryId: string; carNumber: string }, story: Story): Message[] {
  const published = story[PUBLISHED[story.of]].at(-1);
  if (published === undefined) return [];
  const now = answerOf(story, upTo(story, published), published.at);
  const before = beforeRow(story, published);
  // Entered later than the track was said to be wet or dry: nothing changed for it.
  if (story.of === 'group' && before.rows.length === 0) return [];
  const last = [...before.rows, ...before.carRows, ...before.wetRows].reduce<Date | undefined>(laterOf, undefined);
  const was = last === undefined ? undefined : answerOf(story, before, last);
  const own = publishesOwn(story, published, entry.entryId) ? typeOf(published) : undefined;
  const messages: Message[] = [];
  if (own !== undefined) messages.push(messageOf(own, published, { ...entry, ...stateOf(now), ...carried(published) }));
  if (was !== undefined && (was.status !== now.status || was.admit !== now.admit)) {
    const facts = { ...entry, ...stateOf(now), previousStatus: was.status };
    messages.push(messageOf('clearance.changed', published, facts, story.of === 'entry' ? undefined : entry.entryId));
  }
  return messages;
}

type Rows = Pick<Story, 'rows' | 'carRows' | 'wetRows'>;

const PUBLISHED = { entry: 'rows', car: 'carRows', group: 'wetRows' } as const;

const laterOf = (latest: Date | undefined, { at }: PublishedRow): Date =>
  latest === undefined || at > latest ? at : latest;

/** How many rows of the car were written before a row of the entry. */
function carSeqOf({ data }: PublishedRow): number {
  const seq = asRecord(data)['carSeq'];
  return typeof seq === 'number' ? seq : 0;
}

/** With what the other subject had written by then. The rows of a car are numbered without gaps from 1. */
function upTo({ of, rows, carRows, wetRows: allWet }: Story, published: PublishedRow): Rows {
  // Written under the lock of the event and not of the entry: only time puts these beside the others.
  const byThen = (row: PublishedRow): boolean => row.at <= published.at;
  const wetRows = allWet.filter(byThen);
  if (of === 'group') return { rows: rows.filter(byThen), carRows: carRows.filter(byThen), wetRows };
  if (of === 'entry') return { rows, carRows: carRows.slice(0, carSeqOf(published)), wetRows };
  return { rows: rows.filter((row) => carSeqOf(row) < carRows.length), carRows, wetRows };
}

/** The story without the row that is published. */
function beforeRow(story: Story, published: PublishedRow): Rows {
  const all = upTo(story, published);
  const subject = PUBLISHED[story.of];
  return { ...all, [subject]: all[subject].slice(0, -1) };
}

function answerOf({ runGroup, days }: Story, { rows, carRows, wetRows }: Rows, at: Date): ClearanceAnswer {
  const facts = rows.reduce(applyRow, NOTHING_YET);
  const car = carRows.reduce(applyCarRow, NOTHING_WRONG);
  return decideClearance({ facts, car, runGroup, days, wet: wetAt(wetRows.map(toWetStep), at) }, at);
}

const toWetStep = ({ at, data }: PublishedRow): WetStep => ({ at, wet: asRecord(data)['wet'] === true });

function publishesOwn({ of }: Story, { data }: PublishedRow, entryId: string): boolean {
  return of === 'entry' || asRecord(data)['entryId'] === entryId || asRecord(eventOf(data))['entryId'] === entryId;
}

/** @param at the entry, where a row about its car is published at several */
function messageOf(
  type: MessageType,
  row: PublishedRow,
  facts: Readonly<Record<string, unknown>>,
  at?: string,
): Message {
  const suffix = `${type === 'clearance.changed' ? '_clearance' : ''}${at === undefined ? '' : `_${at.replaceAll('-', '')}`}`;
  const history = { seq: row.eventSeq, hash: row.eventHash };
  const body = JSON.stringify({ type, timestamp: row.at.toISOString(), data: { ...facts, history } });
  return { messageId: `msg_${row.historyId.replaceAll('-', '')}${suffix}`, type, body };
}

/** A concession that waits for a second person is not granted yet; the approval is what grants it. */
function typeOf({ action, data }: PublishedRow): MessageType | undefined {
  if (action === 'concession.granted' || action === 'concession.approved') {
    return eventOf(data) === undefined ? undefined : 'concession.granted';
  }
  return Object.hasOwn(OF_ACTION, action) ? OF_ACTION[action] : undefined;
}

function stateOf({ status, admit, validUntil }: ClearanceAnswer) {
  return { status, admit, validUntil };
}

function carried({ data }: PublishedRow): Record<string, unknown> {
  const known = { ...asRecord(eventOf(data)), ...asRecord(data) };
  return Object.fromEntries(CARRIED.filter((key) => known[key] !== undefined).map((key) => [key, known[key]]));
}

function applyRow(facts: ClearanceFacts, row: PublishedRow): ClearanceFacts {
  const event = eventOf(row.data);
  return event === undefined ? facts : applyEntryHappening(facts, event as EntryHappening);
}

function applyCarRow(facts: CarFacts, row: PublishedRow): CarFacts {
  const event = eventOf(row.data);
  return event === undefined ? facts : applyCarHappening(facts, event as CarHappening);
}

// History is written by us only, and `event` is always one of ours.
function eventOf(data: unknown): EntryHappening | CarHappening | undefined {
  return asRecord(data)['event'] as EntryHappening | CarHappening | undefined;
}

function asRecord(value: unknown): Record<string, unknown> {
  return typeof value === 'object' && value !== null ? (value as Record<string, unknown>) : {};
}
