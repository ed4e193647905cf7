import { createHash } from 'node:crypto';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  appendLeaf,
  consistencyProof,
  EMPTY_ROOT,
  EMPTY_TREE,
  type Hash,
  inclusionProof,
  isConsistent,
  isIncluded,
  leafHash,
  type Levels,
  levelsOf,
  rootOf,
} from '../../../src/platform/merkle-tree.ts';

const hex = (hash: Uint8Array) => Buffer.from(hash).toString('hex');
const bytes = (text: string) => Buffer.from(text, 'hex');

// Test data of transparency-dev/merkle (testonly/constants.go, proof/proof_test.go), the same in other implementations
// of RFC 6962, whose hashes RFC 9162 keeps: entries, the root of the first 1 to 8 of them, and proofs. Seen in 2026.
const ENTRIES = ['', '00', '10', '2021', '3031', '40414243', '5051525354555657', '606162636465666768696a6b6c6d6e6f'];
const ROOTS = [
  '6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d',
  'fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125',
  'aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77',
  'd37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7',
  '4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4',
  '76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef',
  'ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c',
  '5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328',
];
const A = '5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e';
const B = 'bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b';
const C = '6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4';
const INCLUSIONS: [index: number, size: number, path: string[]][] = [
  [0, 8, ['96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7', A, C]],
  [5, 8, [B, 'ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0', ROOTS[3] as string]],
];
const CONSISTENCIES: [first: number, second: number, proof: string[]][] = [
  [2, 5, [A, B]],
  [2, 8, [A, C]],
];

function all<T>(steps: Generator<unknown, T>): T {
  for (;;) {
    const step = steps.next();
    if (step.done) return step.value;
  }
}
const levels = (leaves: readonly Hash[]): Levels => all(levelsOf(leaves));
const grow = (leaves: readonly Hash[]) => leaves.reduce(appendLeaf, EMPTY_TREE);

// The definitions of RFC 9162, word for word: MTH of section 2.1.1, PATH of 2.1.3.1, PROOF of 2.1.4.1.
const sha256 = (...parts: Uint8Array[]) => createHash('sha256').update(Buffer.concat(parts)).digest();
const split = (n: number) => {
  let k = 1;
  while (k * 2 < n) k *= 2;
  return k;
};
function mth(d: readonly Uint8Array[]): Hash {
  if (d.length === 0) return sha256();
  if (d.length === 1) return sha256(Buffer.of(0), d[0] as Uint8Array);
  const k = split(d.length);
  return sha256(Buffer.of(1), mth(d.slice(0, k)), mth(d.slice(k)));
}
function path(m: number, d: readonly Uint8Array[]): Hash[] {
  if (d.length === 1) return [];
  const k = split(d.length);
  return m < k ? [...path(m, d.slice(0, k)), mth(d.slice(k))] : [...path(m - k, d.slice(k)), mth(d.slice(0, k))];
}
function subProof(m: number, d: readonly Uint8Array[], b: boolean): Hash[] {
  if (m === d.length) return b ? [] : [mth(d)];
  const k = split(d.length);
  return m <= k
    ? [...subProof(m, d.slice(0, k), b), mth(d.slice(k))]
    : [...subProof(m - k, d.slice(k), false), mth(d.slice(0, k))];
}

const entries = fc.array(fc.uint8Array({ maxLength: 40 }), { minLength: 1, maxLength: 70 });
const withPlace = entries.chain((d) => fc.tuple(fc.constant(d), fc.nat(d.length - 1), fc.nat(1000)));

describe('published values', () => {
  test('the root of nothing is SHA-256 of nothing (FIPS 180-4, its example for the empty message)', () => {
    expect(hex(EMPTY_ROOT)).toBe('e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855');
    expect(hex(rootOf(EMPTY_TREE))).toBe(hex(EMPTY_ROOT));
  });

  const leaves = ENTRIES.map((entry) => leafHash(bytes(entry)));
  test.each(ROOTS.map((root, i) => [i + 1, root] as const))('the root of the first %i entries', (size, root) => {
    expect(hex(rootOf(grow(leaves.slice(0, size))))).toBe(root);
    expect(levels(leaves.slice(0, size)).at(-1)?.map(hex)).toEqual([root]);
  });

  test.each(INCLUSIONS)('the path of entry %i in %i', (index, size, expected) => {
    expect(inclusionProof(levels(leaves.slice(0, size)), index).map(hex)).toEqual(expected);
    const step = { leaf: leaves[index] as Hash, index, path: expected.map(bytes) };
    expect(isIncluded(step, { size, root: bytes(ROOTS[size - 1] as string) })).toBe(true);
  });

  test.each(CONSISTENCIES)('the proof that %i entries begin %i', (first, second, expected) => {
    expect(consistencyProof(levels(leaves.slice(0, second)), first).map(hex)).toEqual(expected);
    const [one, other] = [first, second].map((size) => ({ size, root: bytes(ROOTS[size - 1] as string) }));
    expect(isConsistent(one as never, other as never, expected.map(bytes))).toBe(true);
  });
});

describe('held against the definitions of RFC 9162', () => {
  test('a tree that grows leaf by leaf has the root, and proofs are the same', () => {
    fc.assert(
      fc.property(withPlace, ([d, index, seed]) => {
        const leaves = d.map(leafHash);
        const tree = grow(leaves);
        expect(hex(rootOf(tree))).toBe(hex(mth(d)));
        expect(tree.peaks).toHaveLength(d.length.toString(2).replaceAll('0', '').length);
        expect(inclusionProof(levels(leaves), index).map(hex)).toEqual(path(index, d).map(hex));
        const first = 1 + (seed % d.length);
        expect(consistencyProof(levels(leaves), first).map(hex)).toEqual(subProof(first, d, true).map(hex));
      }),
    );
  });

  test('a proof holds for its leaf and tree, and for nothing else', () => {
    fc.assert(
      fc.property(withPlace, ([d, index, seed]) => {
        const leaf = leafHash(d[index] as Uint8Array);
        const proof = path(index, d);
        const head = { size: d.length, root: mth(d) };
        expect(isIncluded({ leaf, index, path: proof }, head)).toBe(true);
        expect(isIncluded({ leaf: leafHash(Buffer.from(`other ${seed}`)), index, path: proof }, head)).toBe(false);
        expect(isIncluded({ leaf, index, path: [...proof, leaf] }, head)).toBe(false);
        expect(isIncluded({ leaf, index: index + d.length, path: proof }, head)).toBe(false);
        expect(isIncluded({ leaf, index, path: proof }, { ...head, root: sha256(head.root) })).toBe(false);
        if (proof.length === 0) return;
        const place = seed % proof.length;
        const changed = proof.map((hash, i) => (i === place ? sha256(hash) : hash));
        expect(isIncluded({ leaf, index, path: changed }, head)).toBe(false);
        expect(isIncluded({ leaf, index, path: proof.toSpliced(place, 1) }, head)).toBe(false);
      }),
    );
  });

  test('a tree that begins with another is consistent with it, and one that was changed before is not', () => {
    fc.assert(
      fc.property(withPlace, ([d, index, seed]) => {
        const size = 1 + (seed % d.length);
        const first = { size, root: mth(d.slice(0, size)) };
        const second = { size: d.length, root: mth(d) };
        const proof = subProof(size, d, true);
        expect(isConsistent(first, second, proof)).toBe(true);
        const changed = d.map((entry, i) => (i === index ? sha256(entry) : entry));
        const forged = { size: d.length, root: mth(changed) };
        const forgedProof = subProof(size, changed, true);
        // A change of what came after is no change of what was.
        expect(isConsistent(first, forged, forgedProof)).toBe(index >= size);
        expect(isConsistent(first, { ...second, root: sha256(second.root) }, proof)).toBe(false);
        if (size < d.length) expect(isConsistent(first, second, proof.slice(1))).toBe(false);
        expect(isConsistent(second, { ...first, size: first.size - 1 }, proof)).toBe(false);
      }),
    );
  });

  test('there is no proof for what is not in the tree', () => {
    const leaves = levels([leafHash(Buffer.of(1))]);
    expect(() => inclusionProof(leaves, 1)).toThrow(RangeError);
    expect(() => consistencyProof(leaves, 2)).toThrow(RangeError);
    expect(isConsistent({ size: 0, root: EMPTY_ROOT }, { size: 1, root: leaves[0]?.[0] as Hash }, [])).toBe(true);
  });
});
