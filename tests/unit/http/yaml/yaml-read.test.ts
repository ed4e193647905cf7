import { describe, expect, it } from 'vitest';
import { readYaml } from '../../../../src/http/yaml/yaml-read.ts';

function faultsOf(text: string): string[] {
  const read = readYaml(text);
  if (read.ok) return [];
  return read.faults.map(({ place, pointer, detail }) => `${place.line}:${place.column} ${pointer}: ${detail}`);
}
const valueOf = (text: string): unknown => {
  const read = readYaml(text);
  if (!read.ok) throw new Error(JSON.stringify(read.faults));
  return read.value;
};

describe('what YAML means', () => {
  it('is what the core schema of YAML 1.2 says', () => {
    // YAML 1.2.2, section 10.3.2, example 10.9 (from memory), without the infinities and not-a-number
    const text =
      'A null: null\nAlso a null: # Empty\nNot a null: ""\nBooleans: [ true, True, false, FALSE ]\n' +
      'Integers: [ 0, 0o7, 0x3A, -19 ]\nFloats: [ 0., -0.0, .5, +12e03, -2E+05 ]\n';
    expect(valueOf(text)).toEqual({
      'A null': null,
      'Also a null': null,
      'Not a null': '',
      Booleans: [true, true, false, false],
      Integers: [0, 7, 58, -19],
      Floats: [0, -0, 0.5, 12000, -200000],
    });
  });

  it('keeps what older versions took for something else', () => {
    expect(valueOf('a: yes\nb: on\nc: 2026-06-13\nd: 1_000\ne: 12:30\n')).toEqual({
      a: 'yes',
      b: 'on',
      c: '2026-06-13',
      d: '1_000',
      e: '12:30',
    });
  });

  it('follows aliases, and takes keys as texts', () => {
    expect(valueOf('a: &x { b: [1] }\nc: *x\n1: one\ntrue: yes\n')).toEqual({
      a: { b: [1] },
      c: { b: [1] },
      1: 'one',
      true: 'yes',
    });
  });

  it('lets an alias stand for what its anchor named at that place', () => {
    expect(valueOf('a: &x [&y 1]\nb: [*y, *x]\nc: &y 2\nd: [*y, *x]\n')).toEqual({
      a: [1],
      b: [1, [1]],
      c: 2,
      d: [2, [1]],
    });
  });
});

describe('what is refused, with its place', () => {
  it.each([
    ['a custom tag', 'a: 1\nb: !car 2\n', '2:4 : Unresolved tag: !car'],
    ['a tag beyond the core schema', 'a: !!binary aGk=\n', '1:4 : Unresolved tag: tag:yaml.org,2002:binary'],
    ['two equal keys', 'a: 1\nb:\n  c: 1\n  c: 2\n', '4:3 /b/c: this key is there already, in line 3'],
    ['a second document', 'a: 1\n---\nb: 2\n', '2:1 : a second document begins here: send one'],
    ['another version', '%YAML 1.1\n---\na: yes\n', '1:1 : only YAML 1.2 is read here'],
    ['an alias of nothing', 'a: [*x]\n', '1:5 /a/0: there is no anchor "x" before this'],
    ['an alias in itself', 'a: &x [*x]\n', '1:8 /a/0: an alias must not stand inside what it stands for'],
    ['a key that is a list', '? [a]\n: 1\n', '1:3 : a key must be a text, and not __proto__'],
    ['a key that is nothing', '~: 1\n', '1:1 : a key must be a text, and not __proto__'],
    ['__proto__', '{ __proto__: 1 }\n', '1:3 : a key must be a text, and not __proto__'],
    ['not a number', 'a: [1, .nan]\n', '1:8 /a/1: is too large a number'],
    ['U+0000', 'a: 1 # \u0000\n', '1:8 : must not hold U+0000'],
    ['U+0000 behind an escape', 'a: "\\0"\n', '1:4 /a: must not hold U+0000 or half of a surrogate pair'],
    ['tabs', 'a:\n\t- b\n', '2:1 : Tabs are not allowed as indentation'],
    ['an open quote', 'a: "b\n', '2:1 : Missing closing "quote'],
  ])('%s', (_, text, fault) => {
    expect(faultsOf(text)[0]).toBe(fault);
  });

  it('nesting over 40 levels, as in JSON', () => {
    const nested = (depth: number) => `a: ${'['.repeat(depth)}1${']'.repeat(depth)}\n`;
    expect(faultsOf(nested(39))).toEqual([]);
    expect(faultsOf(nested(40))[0]).toContain('must not be nested more than 40 levels deep');
  });
});

// Texts that make readers slow or large: quadratic key tests and messages, deep recursion, growing aliases.
const BOMB = ['a: &a [x,x,x,x,x,x,x,x,x]']
  .concat([...'bcdefgh'].map((name, at) => `${name}: &${name} [${`*${'abcdefg'[at]},`.repeat(9)}]`))
  .join('\n');
const HOSTILE: readonly (readonly [name: string, text: string])[] = [
  ['aliases of aliases', BOMB],
  ['one long text, ten thousand times', `a: &a ${'x'.repeat(5000)}\n${repeat(10_000, (at) => `k${at}: *a`)}`],
  ['brackets', '['.repeat(200_000)],
  ['braces', '{a: '.repeat(60_000)],
  ['dashes', '- '.repeat(200_000)],
  ['question marks', '? '.repeat(200_000)],
  ['maps in a line', 'a: '.repeat(100_000)],
  ['tags', '!!str '.repeat(80_000)],
  ['anchors', '&a '.repeat(120_000)],
];

function repeat(times: number, line: (at: number) => string): string {
  return Array.from({ length: times }, (_, at) => line(at)).join('\n');
}

describe('hostile texts', () => {
  it.each(HOSTILE)('%s', (name, text) => {
    const started = performance.now();
    const faults = faultsOf(text);
    process.stdout.write(`${name}: ${text.length} characters, ${Math.round(performance.now() - started)} ms\n`);
    expect(faults.length).toBeGreaterThan(0);
    expect(faults.length).toBeLessThanOrEqual(20);
  });

  it('fifty thousand keys are read in time that grows with the text', () => {
    const started = performance.now();
    const value = valueOf(repeat(50_000, (at) => `k${at}: 1`));
    // comparing each key with each takes most of a minute here
    expect(performance.now() - started).toBeLessThan(15_000);
    expect(Object.keys(value as object).length).toBe(50_000);
  });
});

describe('where a part stands', () => {
  const TEXT = `# rules
rules:
  - id: a
    test: { kind: expression, expr: abc && defg }
  - id: b
    literal: |
      aaa &&
        bbb
    folded: >-
      aaa &&
      bbb ccc
    plain: aaa
      bbb ccc
    quoted: "aaa bbb"
    escaped: "a\\u0061a bbb"
    alias: *missing
`.replace('*missing', '&x { y: 1 }\n    other: *x');
  const read = readYaml(TEXT);
  const placeOf = (pointer: string, offset?: number) => {
    if (!read.ok) throw new Error(JSON.stringify(read.faults));
    const { line, column } = read.source.placeOf(pointer, offset);
    return `${line}:${column}`;
  };

  it.each([
    ['a text', '/rules/0/test/expr', undefined, '4:37'],
    ['a character in it', '/rules/0/test/expr', 7, '4:44'],
    ['a map, by its key', '/rules/0/test', undefined, '4:5'],
    ['an entry of a list', '/rules/1', undefined, '5:5'],
    ['a literal block', '/rules/1/literal', 9, '8:9'],
    ['a folded block', '/rules/1/folded', 7, '11:7'],
    ['a text over two lines', '/rules/1/plain', 8, '13:11'],
    ['a quoted text', '/rules/1/quoted', 4, '14:18'],
    ['a text with escapes, by its beginning', '/rules/1/escaped', 4, '15:14'],
    ['an alias, by its key', '/rules/1/other', undefined, '17:5'],
    ['what it stands for', '/rules/1/other/y', undefined, '16:20'],
    ['nothing, by what is above it', '/rules/1/basis', undefined, '5:5'],
    ['nothing at all', '/parameters/x', undefined, '2:1'],
    ['the whole', '', undefined, '2:1'],
  ])('%s', (_, pointer, offset, expected) => {
    expect(placeOf(pointer, offset)).toBe(expected);
  });
});
