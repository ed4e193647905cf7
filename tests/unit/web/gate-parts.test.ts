import { exportJWK, generateKeyPair } from 'jose';
import { describe, expect, test } from 'vitest';
import { lettersIn, typed } from '../../../src/web/gate/pad.tsx';
import { compareKeys } from '../../../src/web/gate/kept/gate-store.ts';

describe('a typed number', () => {
  test('takes letters as the event writes them, and leaves what no number has', () => {
    const letters = lettersIn(['7', '07', '7A', '12b', '3A']);
    expect(letters).toEqual(['A', 'b']);
    const type = (text: string, known = letters) => [...text].reduce((before, one) => typed(before, one, known), '');
    expect(type('7a')).toBe('7A');
    expect(type('12B')).toBe('12b');
    expect(type('7-Ä 1')).toBe('71');
    expect(type('12345')).toBe('1234');
    // Both ways of writing are in use: nothing is guessed.
    expect(type('7a', ['A', 'a'])).toBe('7a');
    expect(type('0070')).toBe('0070');
  });
});

describe('new keys', () => {
  test('are taken only together with one that is pinned already', async () => {
    const make = async (kid: string) => ({ ...(await exportJWK((await generateKeyPair('ES256')).publicKey)), kid });
    const [first, second, foreign] = [await make('a'), await make('b'), await make('a')];
    const pinned = { keys: [first] };
    expect(compareKeys(pinned, { keys: [first] })).toBe('same');
    expect(compareKeys(pinned, { keys: [second, first] })).toBe('renewed');
    // The same name is not the same key.
    expect(compareKeys(pinned, { keys: [foreign] })).toBe('foreign');
    expect(compareKeys(pinned, { keys: [] })).toBe('foreign');
    expect(compareKeys({ keys: [first, second] }, { keys: [second] })).toBe('renewed');
  });
});
