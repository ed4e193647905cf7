import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { INSPECTORS, maybeSamePerson, personKey, ROLES, STAFF } from '../../../src/domain/actor.ts';

describe('roles', () => {
  test('staff is everybody but the entrant and the owner of a car, and only inspectors and the chief sign cars off', () => {
    expect(ROLES.filter((role) => !STAFF.includes(role))).toEqual(['entrant', 'owner', 'shop']);
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

describe('whether two may be one person', () => {
  const same = (a: string, b: string) => maybeSamePerson({ name: a }, { name: b });

  // UTS 39, confusables.txt: U+0406 → l (as I → l), U+0412 → B, U+0430 → a, U+043E → o, U+03BF → o, U+0555 → O;
  // UAX 44, Default_Ignorable_Code_Point: U+200B, U+FE0F, U+034F, U+3164. The names are invented.
  test.each([
    ['Ivan Petrov', '\u0406van Petrov', 'a Cyrillic I'],
    ['IVAN PETROV', '\u0406van Petrov', 'a Cyrillic I, and capitals'],
    ['ivan petrov', '\u0406VAN PETROV', 'a Cyrillic I among capitals'],
    ['Ivan Petrov', 'lvan Petrov', 'a small L'],
    ['IVAN PETROV', 'lvan Petrov', 'a small L for a capital'],
    ['Ivan Petrov', '1van Petrov', 'a digit'],
    ['Boris Holm', '\u0412oris Holm', 'a Cyrillic B'],
    ['BORIS HOLM', '\u0412oris Holm', 'a Cyrillic B, and capitals'],
    ['Mara Sand', 'M\u0430ra S\u0430nd', 'Cyrillic letters within'],
    ['Ola Moe', '\u0555la M\u03bfe', 'Armenian and Greek'],
    ['Ola Moe', '\uff2f\uff4c\uff41 \uff2d\uff4f\uff45', 'full width'],
    ['Ola Moe', 'O\u200bla M\ufe0fo\u034fe\u3164', 'letters that do not show'],
    ['Ola Moe', '\ud835\udc0e\ud835\udc25\ud835\udc1a Moe', 'mathematical letters'],
    ['\u041d\u0438\u043d\u0430', '\u041d\u0418\u041d\u0410', 'Cyrillic throughout, and capitals'],
    ['Jean-Luc Roubaix', 'JEAN\u2013LUC  ROUBA\u0406X', 'another dash and another I'],
  ])('%s is %j: %s', (a, b) => {
    expect([same(a, b), same(b, a)]).toEqual([true, true]);
  });

  test.each([
    ['Ines Varga', 'Ina Varga'],
    ['Ivan Petrov', 'Evan Petrov'],
    ['Ola Moe', 'Ola Mol'],
    ['Holm', 'Holme'],
    ['\u041d\u0438\u043d\u0430', 'Nina'],
  ])('%j and %j are two', (a, b) => {
    expect([same(a, b), same(b, a)]).toEqual([false, false]);
  });

  test('one id is one person whatever the names, and two ids do not make two of one name', () => {
    const liv = { name: 'Liv Sand', personId: 'ARC-1150' };
    expect(maybeSamePerson(liv, { name: 'L. Brekke', personId: 'arc-1150' })).toBe(true);
    expect(maybeSamePerson(liv, { name: 'L. Brekke', personId: 'ARC-1151' })).toBe(false);
    expect(maybeSamePerson(liv, { name: 'Liv Sand', personId: 'ARC-1151' })).toBe(true);
    expect(maybeSamePerson({ name: 'A', personId: null }, { name: 'B', personId: null })).toBe(false);
  });

  test('whoever has one key is one person, in whichever case and script', () => {
    const name = fc.string({ unit: 'grapheme', minLength: 1, maxLength: 12 });
    fc.assert(
      fc.property(name, name, (a, b) => {
        if (personKey(a) === personKey(b)) expect(same(a, b)).toBe(true);
        expect(same(a, b)).toBe(same(b, a));
      }),
    );
  });
});
