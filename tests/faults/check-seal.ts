import { createHash } from 'node:crypto';
import { groupBy, type Violation } from './check.ts';
import type { Truth } from './truth.ts';

const sha256 = (prefix: number, ...parts: Buffer[]) =>
  createHash('sha256')
    .update(Buffer.concat([Buffer.of(prefix), ...parts]))
    .digest();

/** Head of a tree by the definition itself: RFC 9162, 2.1.1 (the same as RFC 6962, 2.1). */
export function treeHead(leaves: readonly Buffer[]): Buffer {
  if (leaves.length === 1) return leaves[0] as Buffer;
  let split = 1;
  while (split * 2 < leaves.length) split *= 2;
  return sha256(1, treeHead(leaves.slice(0, split)), treeHead(leaves.slice(split)));
}

export const leafHashOf = (rowHash: string) => sha256(0, Buffer.from(rowHash, 'hex'));

/** Every row of history is one leaf of its event's tree, in its place, a subject's rows by their order, under the right head. */
export function checkSeal(truth: Truth): Violation[] {
  const rows = new Map(truth.toSeal.map((row) => [row.id, row]));
  const problems: string[] = [];
  const seen = new Set<string>();
  const last = new Map<string, number>();
  for (const [eventId, leaves] of groupBy(truth.leaves, (leaf) => leaf.event_id)) {
    for (const [place, leaf] of leaves.entries()) {
      const row = rows.get(leaf.history_id);
      if (leaf.index !== place) problems.push(`leaf ${leaf.index} of ${eventId} stands at ${place}`);
      if (row === undefined || row.event_id !== eventId) problems.push(`leaf ${place} of ${eventId} is no row of it`);
      else if (leafHashOf(row.hash).toString('hex') !== leaf.hash) problems.push(`leaf ${place} has another hash`);
      if (seen.has(leaf.history_id)) problems.push(`${leaf.history_id} is sealed twice`);
      seen.add(leaf.history_id);
      if (row === undefined) continue;
      if (row.seq !== (last.get(row.subject) ?? 0) + 1) problems.push(`${row.subject} is sealed out of its order`);
      last.set(row.subject, row.seq);
    }
    const tree = truth.trees.find((one) => one.event_id === eventId);
    const root = treeHead(leaves.map(({ hash }) => Buffer.from(hash, 'hex'))).toString('hex');
    if (tree?.size !== leaves.length || tree.root !== root) problems.push(`the head of ${eventId} is another one`);
  }
  const open = [...rows.keys()].filter((id) => !seen.has(id)).length;
  if (open > 0) problems.push(`${open} rows are not sealed`);
  return problems.map((what) => ({ promise: 'every row is sealed once', what }));
}
