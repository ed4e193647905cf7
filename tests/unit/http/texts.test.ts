import { describe, expect, test } from 'vitest';
import { line, text } from '../../../src/http/frame/common-schemas.ts';

const passes = (schema: ReturnType<typeof line>, value: string) => schema.safeParse(value).success;

// Unicode Standard Annex 9 names the characters that turn direction, UAX 44 the default-ignorable ones; the blank ones
// of other kinds are ours.
describe('text that people type', () => {
  test.each(['\u0000', '\u0007', '\u001b', '\u007f', '\u0085', '\u009f', '\u2028', '\u2029'])(
    'holds no control character %j',
    (char) => {
      for (const schema of [line(80), text(80)]) expect(passes(schema, `Ines${char}Varga`)).toBe(false);
    },
  );

  test.each(['\u202a', '\u202b', '\u202c', '\u202d', '\u202e', '\u2066', '\u2067', '\u2068', '\u2069'])(
    'holds nothing that turns its direction: %j',
    (char) => {
      for (const schema of [line(80), text(80)]) expect(passes(schema, `Ines${char}Varga`)).toBe(false);
    },
  );

  test.each([
    '',
    ' ',
    '\u00a0',
    '\u200b',
    '\u200b\u200d\u2060',
    '\ufeff',
    '\u00ad',
    '\u3164',
    '\u115f',
    '\u2800',
    '\u034f',
    '\ufe0f',
    '\u0301',
    '\u{e0020}',
  ])('has something to see, which %j has not', (value) => {
    for (const schema of [line(80), text(80)]) expect(passes(schema, value)).toBe(false);
  });

  test.each(['Ines Várga', 'Zoë', '岡田', 'ישראל', 'محمد', 'नेहा', '👩‍🔧', 'e\u0301', "O'Neil-Brandt"])(
    'may be %s',
    (value) => {
      for (const schema of [line(80), text(80)]) expect(passes(schema, value)).toBe(true);
    },
  );

  test('of several lines may break them', () => {
    expect(passes(text(80), 'one\r\n\ttwo')).toBe(true);
    expect(passes(line(80), 'one\ntwo')).toBe(false);
  });
});
