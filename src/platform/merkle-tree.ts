import { createHash } from 'node:crypto';

/** SHA-256, 32 bytes. */
export type Hash = Buffer;

const LEAF = Buffer.of(0);
const NODE = Buffer.of(1);

const sha256 = (...parts: readonly Uint8Array[]): Hash => {
  const hash = createHash('sha256');
  for (const part of parts) hash.update(part);
  return hash.digest();
};

/** The hash of a leaf: SHA-256 over 0x00 and its bytes (RFC 9162, section 2.1.1). */
export const leafHash = (bytes: Uint8Array): Hash => sha256(LEAF, bytes);

/** The hash of an inner node: SHA-256 over 0x01 and both hashes below it (RFC 9162, section 2.1.1). */
export const nodeHash = (left: Uint8Array, right: Uint8Array): Hash => sha256(NODE, left, right);

/** The root of a tree without leaves: SHA-256 of nothing. */
export const EMPTY_ROOT: Hash = sha256();

/** All that is needed to append to a tree and to know its root. */
export interface Frontier {
  /** number of leaves */
  size: number;
  /** hashes of the full subtrees, largest first: one per set bit of the size */
  peaks: readonly Hash[];
}

export const EMPTY_TREE: Frontier = { size: 0, peaks: [] };

/** The tree with one more leaf. */
export function appendLeaf({ size, peaks }: Frontier, leaf: Hash): Frontier {
  const kept = [...peaks];
  let node = leaf;
  for (let carry = size; carry % 2 === 1; carry = (carry - 1) / 2) {
    // There is a peak for each set bit.
    node = nodeHash(kept.pop() as Hash, node);
  }
  return { size: size + 1, peaks: [...kept, node] };
}

/** The root of a tree: MTH of RFC 9162, section 2.1.1. */
export function rootOf({ peaks }: Frontier): Hash {
  if (peaks.length === 0) return EMPTY_ROOT;
  return peaks.reduceRight((right, left) => nodeHash(left, right));
}

/** Every node of a tree: `[level][place]` is the root over the leaves from `place` × 2^level, as many as there are. */
export type Levels = readonly (readonly Hash[])[];

/** Computes every node of a tree, a step per node, so that a large one can be made in slices. */
export function* levelsOf(leaves: readonly Hash[]): Generator<undefined, Levels> {
  const levels = [leaves];
  for (let below = leaves; below.length > 1; ) {
    const level: Hash[] = [];
    for (let place = 0; place < below.length; place += 2) {
      const [left, right] = [below[place] as Hash, below[place + 1]];
      level.push(right === undefined ? left : nodeHash(left, right));
      yield;
    }
    levels.push(level);
    below = level;
  }
  return levels;
}

/**
 * The hashes that lead from a leaf to the root, from below (RFC 9162, section 2.1.3.1).
 *
 * @throws RangeError when there is no such leaf
 */
export function inclusionProof(levels: Levels, index: number): Hash[] {
  if (levels[0]?.[index] === undefined) throw new RangeError(`there is no leaf ${index}`);
  return levels.flatMap((level, height) => level[(index >> height) ^ 1] ?? []);
}

/** The hashes that show a smaller tree to be the beginning of this one (RFC 9162, section 2.1.4.1). */
export function consistencyProof(levels: Levels, first: number): Hash[] {
  const size = levels[0]?.length ?? 0;
  if (first < 0 || first > size) throw new RangeError(`${first} is no size of an earlier tree of ${size}`);
  return first === 0 ? [] : subProof(levels, first, { from: 0, to: size, whole: true });
}

// SUBPROOF of RFC 9162, section 2.1.4.1; `whole`: the verifier knows the root over these leaves already.
function subProof(levels: Levels, first: number, range: { from: number; to: number; whole: boolean }): Hash[] {
  const { from, to, whole } = range;
  if (first === to - from) return whole ? [] : [rangeRoot(levels, from, to)];
  const half = 2 ** (Math.ceil(Math.log2(to - from)) - 1);
  const middle = from + half;
  return first <= half
    ? [...subProof(levels, first, { from, to: middle, whole }), rangeRoot(levels, middle, to)]
    : [...subProof(levels, first - half, { from: middle, to, whole: false }), rangeRoot(levels, from, middle)];
}

const rangeRoot = (levels: Levels, from: number, to: number): Hash => {
  const height = Math.ceil(Math.log2(to - from));
  // The ranges of a proof are subtrees, and each subtree is a node.
  return levels[height]?.[from / 2 ** height] as Hash;
};

/** Where a node stands on its way to the root: its place in its level, and the last place there. */
interface Place {
  node: number;
  last: number;
}

const half = (value: number): number => Math.floor(value / 2);
const above = ({ node, last }: Place): Place => ({ node: half(node), last: half(last) });
/** Whether the next hash of a proof stands to the left of the node. */
const hasLeft = ({ node, last }: Place): boolean => node % 2 === 1 || node === last;

/** The place above the next hash of a proof; a last node without a brother is passed up as it is. */
function next(place: Place): Place {
  let at = place;
  if (hasLeft(at)) while (at.node % 2 === 0 && at.node !== 0) at = above(at);
  return above(at);
}

/** Whether a leaf is in a tree: RFC 9162, section 2.1.3.2. Never throws; what cannot be is false. */
export function isIncluded(
  { leaf, index, path }: { leaf: Hash; index: number; path: readonly Hash[] },
  { size, root }: { size: number; root: Hash },
): boolean {
  if (!Number.isSafeInteger(index) || index < 0 || index >= size) return false;
  let place: Place = { node: index, last: size - 1 };
  let hash = leaf;
  for (const step of path) {
    if (place.last === 0) return false;
    hash = hasLeft(place) ? nodeHash(step, hash) : nodeHash(hash, step);
    place = next(place);
  }
  return place.last === 0 && hash.equals(root);
}

/** Whether the second tree begins with the first: RFC 9162, section 2.1.4.2. Never throws; what cannot be is false. */
export function isConsistent(
  first: { size: number; root: Hash },
  second: { size: number; root: Hash },
  proof: readonly Hash[],
): boolean {
  if (first.size > second.size || first.size < 0) return false;
  if (first.size === second.size) return proof.length === 0 && first.root.equals(second.root);
  // Everything begins with nothing.
  if (first.size === 0) return proof.length === 0 && first.root.equals(EMPTY_ROOT);
  return climbs(first, second, proof);
}

function climbs(first: { size: number; root: Hash }, second: { size: number; root: Hash }, proof: readonly Hash[]) {
  let place: Place = { node: first.size - 1, last: second.size - 1 };
  while (place.node % 2 === 1) place = above(place);
  // The root of a first tree that is a whole subtree is not repeated in the proof.
  const [start, ...steps] = place.node === 0 ? [first.root, ...proof] : proof;
  if (start === undefined) return false;
  let [before, after] = [start, start];
  for (const step of steps) {
    if (place.last === 0) return false;
    if (hasLeft(place)) before = nodeHash(step, before);
    after = hasLeft(place) ? nodeHash(step, after) : nodeHash(after, step);
    place = next(place);
  }
  return place.last === 0 && before.equals(first.root) && after.equals(second.root);
}
