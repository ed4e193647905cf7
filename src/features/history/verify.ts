import { type Db, inTransaction, type Tx } from '../../platform/database/db.ts';
import { openBreather } from '../../platform/clock.ts';
import { unpackLists } from '../../records/judging/signed-lists.ts';
import {
  type AuditLists,
  type AuditRow,
  findChainHead,
  findEventHead,
  findTree,
  listAuditCars,
  listAuditEntries,
  listHeads,
  readLeaves,
  readLists,
  readUnsealed,
} from './store.ts';
import { namesOf, type NotedHead, walkLeaves, walkSubjects } from './walk.ts';

/** Kinds of what can be wrong in an event's records. */
export const FAULT_KINDS = [
  'row-changed',
  'row-missing',
  'row-not-sealed',
  'leaf-differs',
  'entry-chain-broken',
  'car-chain-broken',
  'event-chain-broken',
  'tree-differs',
  'clearance-differs',
  'head-differs',
  'lists-differ',
] as const;

/** Something in an event's records that does not fit its history. */
export interface AuditFault {
  kind: (typeof FAULT_KINDS)[number];
  carNumber?: string;
  entryId?: string;
  /** the car in the event, where a row is about it */
  carId?: string;
  /** number of the row in the history of its entry or car, or of the event */
  seq?: number;
  detail: string;
}

export interface EventAudit {
  eventId: string;
  intact: boolean;
  rows: number;
  /** rows that are leaves of the event's tree */
  sealed: number;
  /** rows that wait to be sealed */
  unsealed: number;
  entries: number;
  /** size and root of the tree: note it down outside of this server, and later rows cannot hide what changed before */
  head: NotedHead;
  /** the newest head that was signed; null before the first */
  signedHead: { size: number; root: string; at: Date; jws: string } | null;
  faults: AuditFault[];
}

/**
 * Reads the whole history of an event and holds everything against it: each row against its hash, each subject's chain
 * against its head, each leaf against its row, the tree against the leaves and the signed heads, what the gate answers
 * from against the fold of the history, and what each decision of the line keeps against the digest in its row. Rows that are not sealed yet are no fault while the sealer knows them.
 *
 * @param noted a head that was noted down earlier: the history must have passed through it
 */
export function auditEvent(prisma: Db, eventId: string, noted?: NotedHead): Promise<EventAudit> {
  // One snapshot: writes that arrive meanwhile must not look like faults.
  return inTransaction(prisma, (tx) => audit(tx, eventId, noted), {
    isolationLevel: 'RepeatableRead',
    timeoutMs: 120_000,
  });
}

async function audit(tx: Tx, eventId: string, noted?: NotedHead): Promise<EventAudit> {
  const entries = await listAuditEntries(tx, eventId);
  const signed = await listHeads(tx, eventId);
  const carOf = new Map(entries.map((entry) => [entry.entryId, entry.carNumber]));
  const subjects = walkSubjects(carOf);
  const leaves = walkLeaves(signed, noted);
  const decisions = walkDecisions(carOf);
  const faults: AuditFault[] = [];
  let [sealed, unsealed] = [0, 0];
  const breathe = openBreather();
  for await (const leaf of readLeaves(tx, eventId)) {
    await breathe();
    faults.push(...leaves.next(leaf));
    if (leaf.row === undefined) continue;
    sealed += 1;
    faults.push(...subjects.next(leaf.row));
    decisions.next(leaf.row);
    if (leaf.row.eventId !== eventId) faults.push(foreign(leaf.index));
  }
  for await (const row of readUnsealed(tx, eventId)) {
    await breathe();
    unsealed += 1;
    faults.push(...subjects.next(row));
    decisions.next(row);
    if (row.isQueued) continue;
    const detail = `Row ${row.seq} (${row.action}) is no leaf and does not wait to be one.`;
    faults.push({ kind: 'row-not-sealed', seq: row.seq, detail, ...namesOf(row, carOf) });
  }
  const stored = { tree: await findTree(tx, eventId), chain: await findChainHead(tx, eventId), signed };
  const cars = await listAuditCars(tx, eventId);
  for (const found of subjects.end(entries, cars, await findEventHead(tx, eventId))) {
    faults.push(...found);
    await breathe();
  }
  faults.push(...(await leaves.end(stored, eventId)));
  for await (const kept of readLists(tx, eventId)) {
    await breathe();
    faults.push(...decisions.hold(kept));
  }
  faults.push(...decisions.end());
  const newest = signed.at(-1);
  return {
    eventId,
    intact: faults.length === 0,
    rows: sealed + unsealed,
    sealed,
    unsealed,
    entries: entries.length,
    head: leaves.head(),
    signedHead:
      newest === undefined
        ? null
        : { size: newest.size, root: newest.root.toString('hex'), at: newest.at, jws: newest.jws },
    faults,
  };
}

function foreign(index: number): AuditFault {
  return { kind: 'leaf-differs', seq: index + 1, detail: `The row of leaf ${index} belongs to another event.` };
}

/** Holds what decisions of the line keep against the digests in the history. */
interface DecisionWalk {
  next(row: AuditRow): void;
  hold(kept: AuditLists): AuditFault[];
  /** after the last: rows that name a decision which is not there */
  end(): AuditFault[];
}

interface Named {
  sha256: string;
  entryId: string;
  seq: number;
}

/** What the row of a decision says of the lists that it rests on; rows from before they were kept say nothing. */
function namedBy({ entryId, seq, data }: AuditRow): (Named & { signOffId: string }) | undefined {
  // written by the sign-off only
  const { event, lists } = data as { event?: { signOffId?: string }; lists?: { sha256: string } };
  const signOffId = event?.signOffId;
  if (entryId === null || signOffId === undefined || lists === undefined) return undefined;
  return { signOffId, sha256: lists.sha256, entryId, seq };
}

const digestOf = (lists: Uint8Array): string | undefined => {
  try {
    return unpackLists(lists).listsSha256;
  } catch {
    // what does not unpack is not what was packed
    return undefined;
  }
};

function walkDecisions(carOf: ReadonlyMap<string, string>): DecisionWalk {
  const named = new Map<string, Named>();
  const fault = ({ entryId, seq }: Pick<Named, 'entryId'> & { seq?: number }, detail: string): AuditFault => {
    const carNumber = carOf.get(entryId);
    return {
      kind: 'lists-differ',
      entryId,
      ...(carNumber === undefined ? {} : { carNumber }),
      ...(seq === undefined ? {} : { seq }),
      detail,
    };
  };
  return {
    next(row) {
      if (row.action !== 'entry.signed-off') return;
      const by = namedBy(row);
      if (by !== undefined) named.set(by.signOffId, by);
    },
    hold({ signOffId, entryId, lists, listsSha256 }) {
      const by = named.get(signOffId);
      named.delete(signOffId);
      if (by === undefined) {
        return lists === null ? [] : [fault({ entryId }, 'A decision keeps lists of findings that no row names.')];
      }
      if (lists !== null && by.sha256 === listsSha256 && digestOf(lists) === by.sha256) return [];
      return [fault(by, `The findings that the decision of row ${by.seq} rests on are not those it was made with.`)];
    },
    end: () => [...named.values()].map((by) => fault(by, `The decision of row ${by.seq} is gone.`)),
  };
}
