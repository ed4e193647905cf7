import { createHash } from 'node:crypto';
import { groupBy, type Violation } from './violation.ts';
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
  const trees = new Map(truth.trees.map((tree) => [tree.event_id, tree]));
  const last = new Map<string, number>();
  const problems = [...groupBy(truth.leaves, (leaf) => leaf.event_id)].flatMap(([eventId, leaves]) => {
    const root = treeHead(leaves.map(({ hash }) => Buffer.from(hash, 'hex'))).toString('hex');
    const tree = trees.get(eventId);
    const isHead = tree?.size === leaves.length && tree.root === root;
    const wrong = leaves.flatMap((leaf, place) => faultOf(leaf, place, rows.get(leaf.history_id), last) ?? []);
    return isHead ? wrong : [...wrong, `the head of ${eventId} is another one`];
  });
  const sealed = truth.leaves.map((leaf) => leaf.history_id);
  const once = new Set(sealed);
  const open = [...rows.keys()].filter((id) => !once.has(id)).length;
  if (open > 0) problems.push(`${open} rows are not sealed`);
  if (once.size !== sealed.length) problems.push('a row is sealed twice');
  return problems.map((what) => ({ promise: 'every row is sealed once', what }));
}

/** `last`: how far each subject has come; brought up to date. */
function faultOf(
  leaf: Truth['leaves'][number],
  place: number,
  row: Truth['toSeal'][number] | undefined,
  last: Map<string, number>,
): string | undefined {
  if (leaf.index !== place) return `leaf ${leaf.index} of ${leaf.event_id} stands at ${place}`;
  if (row?.event_id !== leaf.event_id) return `leaf ${place} of ${leaf.event_id} is no row of it`;
  const before = last.get(row.subject) ?? 0;
  last.set(row.subject, row.seq);
  if (row.seq !== before + 1) return `${row.subject} is sealed out of its order`;
  return leafHashOf(row.hash).toString('hex') === leaf.hash ? undefined : `leaf ${place} has another hash`;
}
