import type { Deps } from '../../deps.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import { runInSlices } from '../../platform/wait.ts';
import {
  consistencyProof,
  EMPTY_ROOT,
  type Hash,
  inclusionProof,
  type Levels,
  levelsOf,
} from '../../platform/merkle-tree.ts';
import type { ChainedRow } from '../../records/history/history.ts';
import { signHeads } from '../../records/history/seal-heads.ts';
import { contentOf } from './walk.ts';
import { findLeaf, findNewestHead, findSealedRow, listLeafHashes, type SignedTree } from './audit-store.ts';

/** All that shows, without this server, that a row is in a history: hashes hexadecimal. */
export interface RowProof {
  eventId: string;
  historyId: string;
  /** what the row's hash covers */
  content: ChainedRow;
  hash: string;
  index: number;
  leafHash: string;
  /** from the leaf to the root */
  proof: string[];
  head: SignedTree;
}

/** What shows that a later history begins with an earlier one. */
export interface HeadsProof {
  eventId: string;
  first: { size: number; root: string };
  second: { size: number; root: string };
  proof: string[];
}

const RETRY = { 'retry-after': '1' };
const hex = (hash: Hash): string => hash.toString('hex');

/**
 * Proves that a history row, or the row of a sign-off, is in the event's history, up to the newest signed head.
 *
 * @throws ProblemError `not-found` (row of this event), `not-sealed` (a moment after it was written)
 */
export async function proveRow(
  deps: Deps,
  eventId: string,
  wanted: { historyId?: string | undefined; signOffId?: string | undefined },
): Promise<RowProof> {
  const { prisma, pool } = deps.db;
  const row = await findSealedRow(prisma, eventId, wanted);
  if (row === undefined) throw notFound('history row');
  const leaf = await findLeaf(prisma, row.historyId);
  if (leaf === undefined) throw notSealed('The row waits to be sealed.');
  let head = await findNewestHead(prisma, eventId);
  if (head === undefined || head.size <= leaf.index) {
    await signHeads(deps, pool);
    head = await findNewestHead(prisma, eventId);
  }
  if (head === undefined || head.size <= leaf.index) throw notSealed('The head over the row is not signed yet.');
  const levels = await treeOf(deps, eventId, head.size);
  return {
    eventId,
    historyId: row.historyId,
    content: contentOf(row),
    hash: row.hash,
    index: leaf.index,
    leafHash: hex(leaf.leafHash),
    proof: inclusionProof(levels, leaf.index).map(hex),
    head,
  };
}

/**
 * Proves that the history at one size is the beginning of the history at another.
 *
 * @param sizes `second` absent: that of the newest signed head
 * @throws ProblemError `not-sealed` when there are not that many rows
 */
export async function proveHeads(
  deps: Deps,
  eventId: string,
  sizes: { first: number; second?: number | undefined },
): Promise<HeadsProof> {
  const second = sizes.second ?? (await findNewestHead(deps.db.prisma, eventId))?.size ?? 0;
  if (sizes.first > second) throw notSealed(`The history has no signed head of ${sizes.first} rows or more yet.`);
  const levels = await treeOf(deps, eventId, second);
  const earlier = await runInSlices(levelsOf((levels[0] ?? []).slice(0, sizes.first)));
  return {
    eventId,
    first: { size: sizes.first, root: rootOf(earlier) },
    second: { size: second, root: rootOf(levels) },
    proof: consistencyProof(levels, sizes.first).map(hex),
  };
}

async function treeOf(deps: Deps, eventId: string, size: number): Promise<Levels> {
  const leaves = await listLeafHashes(deps.db.prisma, eventId, size);
  if (leaves.length < size) throw notSealed(`The history has ${leaves.length} sealed rows.`);
  return runInSlices(levelsOf(leaves));
}

const rootOf = (levels: Levels): string => hex(levels.at(-1)?.[0] ?? EMPTY_ROOT);

const notSealed = (detail: string) => new ProblemError('not-sealed', detail, {}, RETRY);
