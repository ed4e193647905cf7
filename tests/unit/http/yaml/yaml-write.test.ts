import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { wantsYaml } from '../../../../src/http/yaml/yaml-source.ts';
import { readYaml } from '../../../../src/http/yaml/yaml-read.ts';
import { keyOrder, writeYaml } from '../../../../src/http/yaml/yaml-value.ts';

const ORDER = keyOrder(['name', 'rules']);

describe('writing YAML', () => {
  it('keeps a stable order of keys: first the given ones, then by their characters', () => {
    expect(writeYaml({ b: 1, rules: [{ z: 1, name: 'x' }], 10: 2, a: 1, name: 'n' }, ORDER)).toBe(
      'name: n\nrules:\n  - name: x\n    z: 1\n"10": 2\na: 1\nb: 1\n',
    );
  });

  it('is read back as it was, whatever JSON it is', () => {
    const text = fc.oneof(
      fc.string({ unit: 'grapheme' }),
      fc.constantFrom(
        'yes',
        '1e3',
        '0x1F',
        '~',
        '',
        ' a',
        'a\n b\n',
        '- a',
        '# a',
        '2026-01-01',
        '*a',
        '&a',
        '!a',
        '<<',
        ': ',
      ),
    );
    const { value } = fc.letrec<{ value: unknown }>((tie) => ({
      value: fc.oneof(
        { maxDepth: 4 },
        text,
        fc.double({ noNaN: true, noDefaultInfinity: true }),
        fc.boolean(),
        fc.constant(null),
        fc.array(tie('value'), { maxLength: 4 }),
        fc.dictionary(
          text.filter((key) => key !== '__proto__'),
          tie('value'),
          { maxKeys: 5, noNullPrototype: true },
        ),
      ),
    }));
    fc.assert(
      fc.property(value, (one) => {
        const read = readYaml(writeYaml(one, ORDER));
        // JSON itself has one zero only
        const json = (of: unknown): unknown => JSON.parse(JSON.stringify(of));
        expect(json(read.ok ? read.value : read.faults)).toEqual(json(one));
      }),
      { numRuns: 600 },
    );
  });
});

describe('Accept', () => {
  // weights and precedence of ranges: RFC 9110, section 12.5.1
  it.each<[string | undefined, boolean]>([
    [undefined, false],
    ['', false],
    ['*/*', false],
    ['application/*', false],
    ['application/json', false],
    ['application/yaml', true],
    ['Application/YAML', true],
    ['application/yaml, application/json', false],
    ['application/yaml, application/json;q=0.5', true],
    ['application/yaml;q=0.5, application/json', false],
    ['application/yaml, */*;q=0.1', true],
    ['application/json;q=0, application/yaml;q=0.1', true],
    ['text/html, application/yaml;q=0.9, */*;q=0.8', true],
    ['application/yaml;q=0', false],
    ['application/yaml;q=x', false],
  ])('%s', (accept, expected) => {
    expect(wantsYaml(accept)).toBe(expected);
  });
});
