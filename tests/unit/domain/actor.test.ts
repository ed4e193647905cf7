import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { INSPECTORS, personKey, ROLES, STAFF } from '../../../src/domain/actor.ts';

describe('roles', () => {
  test('staff is everybody but the entrant, and only inspectors and the chief sign cars off', () => {
    expect(ROLES.filter((role) => !STAFF.includes(role))).toEqual(['entrant']);
    expect([...INSPECTORS].sort()).toEqual(['chief', 'inspector']);
  });
});

describe('the key of a name', () => {
  // Written in different ways by different people; the pairs are invented.
  test.each([
    ['Ines Várga', 'ines várga'],
    ['Ines Várga', '  INES   VÁRGA '],
    ['Ines Várga', 'Ines\u00a0Va\u0301rga'],
    ['Ines Várga', 'Ines\tVárga\n'],
    ['Jean-Luc Roubaix', 'Jean Luc Roubaix'],
    ['Jean-Luc Roubaix', 'Jean\u2013Luc Roubaix'],
    ['Jean-Luc Roubaix', 'Jean\u2011Luc Roubaix'],
    ["Mara O'Tally", 'Mara O’Tally'],
    ['A. B. Holm', 'A B Holm'],
    ['Holm', 'Ho\u00adlm'],
    ['Holm', 'Ho\u200blm'],
    ['Ｈｏｌｍ', 'Holm'],
  ])('%j and %j are one person', (a, b) => {
    expect(personKey(a)).toBe(personKey(b));
  });

  test.each([
    ['Ines Varga', 'Ina Varga'],
    ['A Holm', 'B Holm'],
    ['Holm', 'Holme'],
  ])('%j and %j are two', (a, b) => {
    expect(personKey(a)).not.toBe(personKey(b));
  });

  test('does not depend on case or spacing, and folding twice is folding once', () => {
    const word = fc.stringMatching(/^[A-Za-zÀ-ÖØ-öø-ÿ]{1,8}$/u).filter((text) => !text.includes('ß'));
    fc.assert(
      fc.property(
        fc.array(word, { minLength: 1, maxLength: 4 }),
        fc.constantFrom(' ', '  ', '\t', ' - '),
        (words, gap) => {
          const key = personKey(words.join(' '));
          expect(personKey(words.join(gap).toUpperCase())).toBe(personKey(words.join(' ').toUpperCase()));
          expect(personKey(words.join(gap))).toBe(key);
          expect(personKey(key)).toBe(key);
          expect(personKey(` ${words.join(' ').toLowerCase()} `)).toBe(key);
        },
      ),
    );
  });
});
