import { createHash } from 'node:crypto';
import { type EventLink, verifyEventChain } from '../../domain/event-chain.ts';
import { appendLeaf, EMPTY_TREE, type Frontier, type Hash, rootOf } from '../../platform/merkle-tree.ts';
import { leafOf } from '../../records/seal.ts';
import { type KeptHead, verifyHead } from '../../records/seal-heads.ts';
import type { AuditFault } from './fault.ts';
import type { AuditLeaf } from './store.ts';

/** A head as somebody noted it down: of the tree, of a leaf (as messages carry it), or of the chain before there were trees. */
export interface NotedHead {
  seq: number;
  hash: string;
}

/** The tree, chain and heads that the database has. */
export interface StoredHeads {
  tree: { size: number; root: Hash; peaks: readonly Hash[] } | undefined;
  chain: NotedHead;
  signed: readonly KeptHead[];
}

export interface LeafWalk {
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
