import {
  applyClearanceEvent,
  type ClearanceAnswer,
  type ClearanceEvent,
  type ClearanceFacts,
  decideClearance,
  NOTHING_YET,
} from './clearance.ts';

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
  return hasEvent || Object.hasOwn(OF_ACTION, action) || action === 'clearance.expired';
}

/**
 * The messages that the last of an entry's history rows causes; none, one or two. Pure: the same history gives the same
 * messages, byte for byte, however often and however late they are made.
 *
 * `status` and `admit` are what the gate said right after the row. Whether the clearance changed is decided against what
 * the gate said right after the row before, so an end by the clock is told with the row that notes it.
 *
 * @param rows all rows of the entry up to the one that tells, oldest first
 */
export function messagesOf(
  entry: { eventId: string; entryId: string; carNumber: string },
  rows: readonly ToldRow[],
): Message[] {
  const row = rows.at(-1);
  if (row === undefined) return [];
  const before = rows.slice(0, -1).reduce(applyRow, NOTHING_YET);
  const now = decideClearance(applyRow(before, row), row.at);
  const previous = rows.at(-2);
  const was = previous === undefined ? undefined : decideClearance(before, previous.at);
  const own = typeOf(row);
  const messages: Message[] = [];
  if (own !== undefined) messages.push(messageOf(own, row, { ...entry, ...stateOf(now), ...carried(row) }));
  if (was !== undefined && (was.status !== now.status || was.admit !== now.admit)) {
    const facts = { ...entry, ...stateOf(now), previousStatus: was.status };
    messages.push(messageOf('clearance.changed', row, facts));
  }
  return messages;
}

function messageOf(type: MessageType, row: ToldRow, facts: Readonly<Record<string, unknown>>): Message {
  const suffix = type === 'clearance.changed' ? '_clearance' : '';
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
  return event === undefined ? facts : applyClearanceEvent(facts, event);
}

// History is written by us only, and `event` is always one of ours.
function eventOf(data: unknown): ClearanceEvent | undefined {
  return asRecord(data)['event'] as ClearanceEvent | undefined;
}

function asRecord(value: unknown): Record<string, unknown> {
  return typeof value === 'object' && value !== null ? (value as Record<string, unknown>) : {};
}
