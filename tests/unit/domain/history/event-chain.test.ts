import { createHash } from 'node:crypto';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { type EventLink, linkText, verifyEventChain } from '../../../../src/features/history/walk.ts';

const sha256 = (text: string) => createHash('sha256').update(text, 'utf8').digest('hex');

function chain(rowHashes: readonly string[]): EventLink[] {
  let before = '';
  return rowHashes.map((rowHash, index) => {
    const hash = sha256(linkText(before, index + 1, rowHash));
    before = hash;
    return { seq: index + 1, rowHash, hash };
  });
}
const headOf = (links: readonly EventLink[]) => ({ seq: links.length, hash: links.at(-1)?.hash ?? '' });
const rowHashes = fc.uniqueArray(fc.stringMatching(/^[0-9a-f]{8}$/), { minLength: 2, maxLength: 20 });

test('SHA-256 here is the one of FIPS 180-4: its example "abc" (appendix B.1)', () => {
  expect(sha256('abc')).toBe('ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad');
});

describe('a chain', () => {
  test('as it was written is intact, an empty one too', () => {
    fc.assert(
      fc.property(rowHashes, (rows) => {
        const links = chain(rows);
        expect(verifyEventChain(links, headOf(links), sha256)).toEqual({ intact: true });
      }),
    );
    expect(verifyEventChain([], { seq: 0, hash: '' }, sha256)).toEqual({ intact: true });
  });

  test('shows a changed, missing, added or moved row at its place', () => {
    fc.assert(
      fc.property(rowHashes, fc.nat(), (rows, pick) => {
        const links = chain(rows);
        const at = pick % (links.length - 1);
        const head = headOf(links);
        const changed = links.with(at, { ...(links[at] as EventLink), rowHash: 'x' });
        expect(verifyEventChain(changed, head, sha256)).toEqual({ intact: false, brokenAt: at + 1 });
        const missing = links.toSpliced(at, 1);
        expect(verifyEventChain(missing, head, sha256)).toEqual({ intact: false, brokenAt: at + 1 });
        const moved = links.with(at, links[at + 1] as EventLink).with(at + 1, links[at] as EventLink);
        expect(verifyEventChain(moved, head, sha256)).toEqual({ intact: false, brokenAt: at + 1 });
        const added = links.toSpliced(at, 0, { seq: at + 1, rowHash: 'y', hash: 'z' });
        expect(verifyEventChain(added, head, sha256)).toEqual({ intact: false, brokenAt: at + 1 });
      }),
    );
  });

  test('cut off at its end does not reach its head', () => {
    const links = chain(['a', 'b', 'c']);
    const cut = links.slice(0, 2);
    expect(verifyEventChain(cut, headOf(links), sha256)).toEqual({ intact: false, brokenAt: 3 });
  });
});
