import { createHash } from 'node:crypto';
import { applyClearanceEvent, type ClearanceEvent, type ClearanceFacts, NOTHING_YET } from '../../domain/clearance.ts';
import { type EventLink, verifyEventChain } from '../../domain/event-chain.ts';
import { canonicalJson } from '../../platform/canonical-json.ts';
import { type Db, inTransaction, type Tx } from '../../platform/db.ts';
import { chainHash } from '../../records/history.ts';
import { type AuditEntry, type AuditRow, findHead, listAuditEntries, readAuditRows } from './store.ts';

/** Something in an event's records that does not fit its history. */
export interface AuditFault {
  kind: 'row-changed' | 'entry-chain-broken' | 'event-chain-broken' | 'clearance-differs' | 'head-differs';
  carNumber?: string;
  entryId?: string;
  /** number of the row in the history of the entry, or of the event */
  seq?: number;
  detail: string;
}

export interface EventAudit {
  eventId: string;
  intact: boolean;
  rows: number;
  entries: number;
  /** the head of the chain: note it down outside of this server, and later rows cannot hide what changed before */
  head: { seq: number; hash: string };
  faults: AuditFault[];
}

/** What reading an entry's rows in order comes to. */
interface Walked {
  seq: number;
  hash: string;
  facts: ClearanceFacts;
}

const START: Walked = { seq: 0, hash: '', facts: NOTHING_YET };
const sha256 = (text: string) => createHash('sha256').update(text, 'utf8').digest('hex');

/**
 * Reads the whole history of an event and holds everything against it: each row against its hash, each entry's chain
 * against its head, the event's chain against its head, and what the gate answers from against the fold of the history.
 *
 * @param noted a head that was noted down earlier: the chain must have passed through it
 */
export function auditEvent(prisma: Db, eventId: string, noted?: { seq: number; hash: string }): Promise<EventAudit> {
  // One snapshot: writes that arrive meanwhile must not look like faults.
  return inTransaction(prisma, (tx) => audit(tx, eventId, noted), {
    isolationLevel: 'RepeatableRead',
    timeoutMs: 120_000,
  });
}

async function audit(tx: Tx, eventId: string, noted?: { seq: number; hash: string }): Promise<EventAudit> {
  const entries = await listAuditEntries(tx, eventId);
  const carOf = new Map(entries.map((entry) => [entry.entryId, entry.carNumber]));
  const walked = new Map<string, Walked>();
  const links: EventLink[] = [];
  const faults: AuditFault[] = [];
  for await (const row of readAuditRows(tx, eventId)) {
    const fault = walkRow(walked, row);
    if (fault !== undefined) faults.push({ ...fault, entryId: row.entryId, ...named(carOf.get(row.entryId)) });
    links.push({ seq: row.eventSeq, rowHash: row.hash, hash: row.eventHash });
  }
  const head = await findHead(tx, eventId);
  faults.push(...entries.flatMap((entry) => entryFaults(entry, walked.get(entry.entryId) ?? START)));
  faults.push(...chainFaults(links, head, noted));
  return { eventId, intact: faults.length === 0, rows: links.length, entries: entries.length, head, faults };
}

const named = (carNumber: string | undefined) => (carNumber === undefined ? {} : { carNumber });

function walkRow(walked: Map<string, Walked>, row: AuditRow): AuditFault | undefined {
  const before = walked.get(row.entryId) ?? START;
  const { hash, eventSeq: _seq, eventHash: _hash, ...content } = row;
  const expected = chainHash({
    entryId: content.entryId,
    seq: content.seq,
    action: content.action,
    actorId: content.actorId,
    actorRole: content.actorRole,
    at: content.at.toISOString(),
    data: content.data,
    prevHash: content.prevHash,
  });
  const { event } = content.data as { event?: ClearanceEvent };
  const facts = event === undefined ? before.facts : applyClearanceEvent(before.facts, event);
  walked.set(row.entryId, { seq: row.seq, hash, facts });
  if (hash !== expected) {
    return { kind: 'row-changed', seq: row.seq, detail: `Row ${row.seq} (${row.action}) is not as it was written.` };
  }
  if (row.seq === before.seq + 1 && row.prevHash === before.hash) return undefined;
  const detail = `Row ${row.seq} does not follow row ${before.seq}: a row is missing, added or moved.`;
  return { kind: 'entry-chain-broken', seq: row.seq, detail };
}

function entryFaults(entry: AuditEntry, walked: Walked): AuditFault[] {
  const { entryId, carNumber } = entry;
  const faults: AuditFault[] = [];
  if (walked.seq !== entry.historySeq || walked.hash !== entry.historyHash) {
    const detail = `The history ends at row ${walked.seq}, the entry says ${entry.historySeq}.`;
    faults.push({ kind: 'entry-chain-broken', entryId, carNumber, seq: walked.seq, detail });
  }
  // stored facts have been through JSON, which drops what is undefined
  if (canonicalJson(JSON.parse(JSON.stringify(walked.facts))) !== canonicalJson(entry.facts)) {
    const detail = 'What the gate answers from is not what the history comes to.';
    faults.push({ kind: 'clearance-differs', entryId, carNumber, detail });
  }
  return faults;
}

function chainFaults(
  links: readonly EventLink[],
  head: { seq: number; hash: string },
  noted: { seq: number; hash: string } | undefined,
): AuditFault[] {
  const faults: AuditFault[] = [];
  const { brokenAt } = verifyEventChain(links, head, sha256);
  if (brokenAt !== undefined) {
    const detail = `The event's chain breaks at link ${brokenAt} of ${links.length}.`;
    faults.push({ kind: 'event-chain-broken', seq: brokenAt, detail });
  }
  if (noted !== undefined && (noted.seq === 0 ? '' : links[noted.seq - 1]?.hash) !== noted.hash) {
    const detail = `Link ${noted.seq} is not the one that was noted down.`;
    faults.push({ kind: 'head-differs', seq: noted.seq, detail });
  }
  return faults;
}
