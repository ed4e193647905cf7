import { createHash } from 'node:crypto';
import {
  applyCarHappening,
  type CarFacts,
  type CarHappening,
  NOTHING_WRONG,
} from '../../domain/clearance/car-happenings.ts';
import {
  applyEntryHappening,
  type ClearanceFacts,
  type EntryHappening,
  NOTHING_YET,
} from '../../domain/clearance/clearance.ts';
import { canonicalJson } from '../../platform/canonical-json.ts';
import { appendLeaf, EMPTY_TREE, type Frontier, type Hash, rootOf } from '../../platform/merkle-tree.ts';
import { type ChainedRow, chainHash, type Subject } from '../../records/history/history.ts';
import { type KeptHead, verifyHead } from '../../records/history/signing.ts';
import { leafOf } from '../../records/history/seal.ts';
import type { AuditCar, AuditEntry, AuditHead, AuditLeaf, AuditRow } from './store.ts';
import type { AuditFault } from './verify.ts';

/** What reading the rows of a subject in order comes to. */
interface Walked {
  seq: number;
  hash: string;
  facts: ClearanceFacts;
  car: CarFacts;
}

const START: Walked = { seq: 0, hash: '', facts: NOTHING_YET, car: NOTHING_WRONG };

/** Reads the rows of all subjects of an event, those of each in their order, and says what does not fit. */
interface SubjectWalk {
  next(row: AuditRow): AuditFault[];
  /** after the last row, in steps: what does not fit what the database says of the event itself, the entries, the cars */
  end(entries: readonly AuditEntry[], cars: readonly AuditCar[], event: AuditHead): Iterable<AuditFault[]>;
}

/** Each row must have its hash and follow the one before it of the same subject. */
export function walkSubjects(carOf: ReadonlyMap<string, string>): SubjectWalk {
  const walked = new Map<string, Walked>();
  return {
    next(row) {
      const key = row.entryId ?? row.carId ?? row.eventId;
      const before = walked.get(key) ?? START;
      walked.set(key, { seq: row.seq, hash: row.hash, ...folded(row, before) });
      const fault = rowFault(row, before);
      return fault === undefined ? [] : [{ ...fault, ...namesOf(row, carOf) }];
    },
    *end(entries, cars, event) {
      yield eventFaults(event, walked.get(event.eventId) ?? START);
      for (const entry of entries) yield entryFaults(entry, walked.get(entry.entryId) ?? START);
      for (const car of cars) yield carFaults(car, walked.get(car.carId) ?? START);
    },
  };
}

function folded({ entryId, carId, data }: AuditRow, { facts, car }: Walked): Pick<Walked, 'facts' | 'car'> {
  // written by us only, of the kind that its subject has
  const { event } = data as { event?: unknown };
  if (event === undefined) return { facts, car };
  if (entryId !== null) return { facts: applyEntryHappening(facts, event as EntryHappening), car };
  return { facts, car: carId === null ? car : applyCarHappening(car, event as CarHappening) };
}

function rowFault(row: AuditRow, before: Walked): AuditFault | undefined {
  const { seq, action, prevHash } = row;
  if (chainHash(contentOf(row)) !== row.hash) {
    return { kind: 'row-changed', seq, detail: `Row ${seq} (${action}) is not as it was written.` };
  }
  if (seq === before.seq + 1 && prevHash === before.hash) return undefined;
  const detail = `Row ${seq} does not follow row ${before.seq}: a row is missing, added or moved.`;
  return { kind: chainKind(row), seq, detail };
}

/** What the hash of a row covers. */
export function contentOf(row: AuditRow): ChainedRow {
  const { seq, action, actorId, actorRole, at, data, prevHash } = row;
  return { ...subjectOf(row), seq, action, actorId, actorRole, at: at.toISOString(), data, prevHash };
}

function subjectOf({ entryId, carId, eventId }: AuditRow): Subject {
  if (entryId !== null) return { entryId };
  return carId === null ? { eventId } : { carId };
}

function chainKind({ entryId, carId }: AuditRow): AuditFault['kind'] {
  if (entryId !== null) return 'entry-chain-broken';
  return carId === null ? 'event-chain-broken' : 'car-chain-broken';
}

/** The entry or car that a row is about, for a person. */
export function namesOf({ entryId, carId }: AuditRow, carOf: ReadonlyMap<string, string>): Partial<AuditFault> {
  const carNumber = entryId === null ? undefined : carOf.get(entryId);
  return {
    ...(entryId === null ? {} : { entryId }),
    ...(carId === null ? {} : { carId }),
    ...(carNumber === undefined ? {} : { carNumber }),
  };
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

function carFaults({ carId, facts, historySeq, historyHash }: AuditCar, walked: Walked): AuditFault[] {
  const faults: AuditFault[] = [];
  if (walked.seq !== historySeq || walked.hash !== historyHash) {
    const detail = `The history of the car ends at row ${walked.seq}, the car says ${historySeq}.`;
    faults.push({ kind: 'car-chain-broken', carId, seq: walked.seq, detail });
  }
  if (canonicalJson(JSON.parse(JSON.stringify(walked.car))) !== canonicalJson(facts)) {
    const detail = 'What the gate answers from about the car is not what its history comes to.';
    faults.push({ kind: 'clearance-differs', carId, detail });
  }
  return faults;
}

function eventFaults({ historySeq, historyHash }: AuditHead, walked: Walked): AuditFault[] {
  if (walked.seq === historySeq && walked.hash === historyHash) return [];
  const detail = `The history of the event itself ends at row ${walked.seq}, the event says ${historySeq}.`;
  return [{ kind: 'event-chain-broken', seq: walked.seq, detail }];
}

/** A head as somebody noted it down: of the tree, of a leaf (as messages carry it), or of the chain before there were trees. */
export interface NotedHead {
  seq: number;
  hash: string;
}

/** The tree, chain and heads that the database has. */
interface StoredHeads {
  tree: { size: number; root: Hash; peaks: readonly Hash[] } | undefined;
  chain: NotedHead;
  signed: readonly KeptHead[];
}

interface LeafWalk {
  next(leaf: AuditLeaf): AuditFault[];
  /** after the last leaf: what does not fit what the database says of the event, and the noted head */
  end(stored: StoredHeads, eventId: string): Promise<AuditFault[]>;
  head(): NotedHead;
}

const sha256 = (text: string) => createHash('sha256').update(text, 'utf8').digest('hex');

/** Reads the leaves of an event in their order and builds its tree anew. */
export function walkLeaves(signed: readonly KeptHead[], noted: NotedHead | undefined): LeafWalk {
  const links: EventLink[] = [];
  const wanted = new Set(signed.map(({ size }) => size));
  const roots = new Map<number, Hash>([[0, rootOf(EMPTY_TREE)]]);
  // Of an empty history nothing was noted.
  const known = new Set<string>(noted?.seq === 0 ? ['', rootOf(EMPTY_TREE).toString('hex')] : []);
  let tree = EMPTY_TREE;
  return {
    next(leaf) {
      const { row } = leaf;
      const faults = leafFaults(leaf, tree.size);
      tree = appendLeaf(tree, leaf.leafHash);
      if (row !== undefined && row.eventSeq !== null) {
        links.push({ seq: row.eventSeq, rowHash: row.hash, hash: row.eventHash ?? '' });
      }
      if (wanted.has(tree.size)) roots.set(tree.size, rootOf(tree));
      if (noted?.seq === tree.size) {
        for (const hash of [leaf.leafHash.toString('hex'), rootOf(tree).toString('hex')]) known.add(hash);
        if (row?.eventSeq === noted.seq) known.add(row.eventHash ?? '');
      }
      return faults;
    },
    async end(stored, eventId) {
      const faults = [...treeFaults(tree, stored.tree), ...chainFaults(links, stored.chain)];
      for (const head of signed) {
        if (roots.get(head.size)?.equals(head.root) !== true)
          faults.push(headFault(head.size, 'is not that of the rows'));
      }
      const newest = signed.at(-1);
      if (newest !== undefined && !(await isSigned(newest, eventId))) {
        faults.push(headFault(newest.size, 'has a signature that does not fit'));
      }
      if (noted !== undefined && !known.has(noted.hash)) {
        const detail = `The history up to row ${noted.seq} is not the one that was noted down.`;
        faults.push({ kind: 'head-differs', seq: noted.seq, detail });
      }
      return faults;
    },
    head: () => ({ seq: tree.size, hash: tree.size === 0 ? '' : rootOf(tree).toString('hex') }),
  };
}

function leafFaults({ index, leafHash, row }: AuditLeaf, expected: number): AuditFault[] {
  const seq = index + 1;
  const wrong = (kind: AuditFault['kind'], detail: string): AuditFault[] => [{ kind, seq, detail }];
  if (index !== expected) return wrong('leaf-differs', `Leaf ${index} stands where leaf ${expected} should.`);
  if (row === undefined) return wrong('row-missing', `The row of leaf ${index} is gone.`);
  if (leafOf(row.hash).equals(leafHash)) return [];
  return wrong('leaf-differs', `Leaf ${index} was made of another row than the one it names (${row.action}).`);
}

function treeFaults(built: Frontier, stored: StoredHeads['tree']): AuditFault[] {
  if (stored === undefined && built.size === 0) return [];
  const fits =
    stored !== undefined &&
    stored.size === built.size &&
    stored.root.equals(rootOf(built)) &&
    stored.peaks.length === built.peaks.length &&
    stored.peaks.every((peak, place) => built.peaks[place]?.equals(peak) === true);
  if (fits) return [];
  const detail = `The tree of ${stored?.size ?? 0} rows is not the one that the ${built.size} leaves make.`;
  return [{ kind: 'tree-differs', seq: built.size, detail }];
}

function chainFaults(links: readonly EventLink[], head: NotedHead): AuditFault[] {
  const { brokenAt } = verifyEventChain(links, head, sha256);
  if (brokenAt === undefined) return [];
  const detail = `The event's chain of the first version breaks at link ${brokenAt} of ${links.length}.`;
  return [{ kind: 'event-chain-broken', seq: brokenAt, detail }];
}

function headFault(size: number, what: string): AuditFault {
  return { kind: 'head-differs', seq: size, detail: `The signed head of ${size} rows ${what}.` };
}

async function isSigned(head: KeptHead, eventId: string): Promise<boolean> {
  const says = await verifyHead(head);
  return says?.eventId === eventId && says.size === head.size && says.root === head.root.toString('hex');
}

/** One row of an event's history as its chain sees it. */
export interface EventLink {
  seq: number;
  /** the row's own hash, which covers its content (SHA-256, hex) */
  rowHash: string;
  /** the link's hash as stored (SHA-256, hex) */
  hash: string;
}

/**
 * Whether links, in order, form one unbroken chain that ends at `head`: a row that was changed, taken out, put in or
 * moved breaks it from there on.
 *
 * @param sha256 SHA-256 of a UTF-8 text as 64 hex digits (FIPS 180-4)
 * @returns `brokenAt`: the number of the first link that does not fit; one past the last where the head does not
 */
export function verifyEventChain(
  links: readonly EventLink[],
  head: { seq: number; hash: string },
  sha256: (text: string) => string,
): { intact: boolean; brokenAt?: number } {
  let before = '';
  for (const [index, link] of links.entries()) {
    const seq = index + 1;
    if (link.seq !== seq || link.hash !== sha256(linkText(before, seq, link.rowHash))) {
      return { intact: false, brokenAt: seq };
    }
    before = link.hash;
  }
  const fits = links.length === head.seq && before === head.hash;
  return fits ? { intact: true } : { intact: false, brokenAt: links.length + 1 };
}

/** What a link's hash covers: the same words as the database function `event_link`. */
export const linkText = (before: string, seq: number, rowHash: string): string => `${before}:${seq}:${rowHash}`;
