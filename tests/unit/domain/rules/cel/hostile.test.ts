import { describe, expect, it } from 'vitest';
import { compileCel } from '../../../../../src/domain/rules/cel/generate.ts';
import type { CelScope } from '../../../../../src/domain/rules/cel/types.ts';

// Expressions that keep other evaluators busy for seconds or for ever. Each must be refused by the static check, so
// that nothing of it is ever run; the sizes are the bounds of `limits.ts`.

const SCOPE: CelScope<string> = {
  find: (path) => ({
    variable: { type: { kind: 'map', of: { kind: 'double' }, keys: ['FL', 'FR'] }, ref: path[0] ?? '' },
    taken: 1,
  }),
};
const sixty = `[${Array.from({ length: 60 }, (_, index) => index).join(',')}]`;
const nest = (macro: string, depth: number): string =>
  depth === 0 ? 'true' : `${sixty}.${macro}(v${depth}, ${nest(macro, depth - 1)})`;
const nestNames = (macro: string, depth: number): string =>
  depth === 0 ? 'true' : `x.${macro}(v${depth}, ${nestNames(macro, depth - 1)})`;

const HOSTILE: readonly (readonly [name: string, source: string, code: string])[] = [
  ['all over 60 elements, five deep', nest('all', 5), 'not-in-subset'],
  ['exists over 60 elements, five deep', nest('exists', 5), 'not-in-subset'],
  ['map over 60 elements, five deep', nest('map', 5), 'not-in-subset'],
  ['all over positions, two deep', nestNames('all', 2), 'not-in-subset'],
  ['exists_one inside all', 'x.all(p, x.exists_one(q, true))', 'not-in-subset'],
  ['a comprehension over a list', '[1, 2].all(v, v > 0)', 'not-in-subset'],
  ['filter', 'x.filter(p, true) == x', 'not-in-subset'],
  ['a regular expression that backtracks', `"${'a'.repeat(40)}!".matches("(a+)+$")`, 'unknown-function'],
  ['contains', '"abc".contains("b")', 'unknown-function'],
  ['a text beyond the length', `true || ${' '.repeat(2000)}true`, 'expression-too-large'],
  ['40 brackets', `${'('.repeat(40)}true${')'.repeat(40)}`, 'expression-too-large'],
  ['900 brackets', `${'('.repeat(900)}true${')'.repeat(900)}`, 'expression-too-large'],
  ['40 lists', `${'['.repeat(40)}1${']'.repeat(40)} == []`, 'expression-too-large'],
  ['40 calls', `${'abs('.repeat(40)}1.0${')'.repeat(40)} > 0.0`, 'expression-too-large'],
  ['300 additions', `1${'+1'.repeat(300)} > 0`, 'expression-too-large'],
  ['300 conditions', `${'true?true:'.repeat(190)}true`, 'expression-too-large'],
  ['450 list entries', `1 in [${'1,'.repeat(450)}1]`, 'expression-too-large'],
  ['300 selections', `x${'.a'.repeat(300)}`, 'expression-too-large'],
  ['an unclosed text', 'x == "abc', 'bad-expression'],
  ['nothing', '', 'bad-expression'],
  ['a message', 'Foo{a: 1} == Foo{a: 1}', 'not-in-subset'],
  ['a map', '{"a": 1}["a"] == 1', 'not-in-subset'],
  ['bytes', 'b"a" == b"a"', 'not-in-subset'],
  ['an unsigned number', '1u == 1u', 'not-in-subset'],
  ['null', 'null == null', 'not-in-subset'],
  ['a timestamp', 'timestamp("2026-01-01T00:00:00Z") == timestamp("2026-01-01T00:00:00Z")', 'unknown-function'],
  ['a whole number beyond 2^53', '9007199254740993 > 0', 'bad-expression'],
];

describe('hostile and foreign expressions', () => {
  it.each(HOSTILE)('refuses %s', (_, source, code) => {
    const compiled = compileCel(source, SCOPE, 'bool');
    expect(compiled.ok).toBe(false);
    if (!compiled.ok) expect(compiled.faults.map((fault) => fault.code)).toContain(code);
  });

  it('refuses each in less than 50 ms', () => {
    // the best of five, because the machine has other work; another text each time, because what was read is kept
    const best = HOSTILE.map(([name, source]) => {
      const times = [1, 2, 3, 4, 5].map((round) => {
        const started = performance.now();
        compileCel(source + ' '.repeat(round), SCOPE, 'bool');
        return performance.now() - started;
      });
      return { name, ms: Math.min(...times) };
    });
    const [slowest] = best.toSorted((one, other) => other.ms - one.ms);
    process.stdout.write(`hostile expressions: the slowest is ${slowest?.name}, ${slowest?.ms.toFixed(1)} ms\n`);
    expect(slowest?.ms).toBeLessThan(50);
  });

  it('counts brackets inside texts as text', () => {
    expect(compileCel(`"${'('.repeat(60)}" == "${'\\"['.repeat(60)}"`, SCOPE, 'bool').ok).toBe(true);
  });

  it('keeps names and texts of the rule out of the generated code', () => {
    const text = '`${globalThis.leaked = 1}` */ ");globalThis.leaked=1;("';
    const compiled = compileCel(`"x" == ${JSON.stringify(text)}`, SCOPE, 'bool');
    expect(compiled.ok).toBe(true);
    if (compiled.ok) expect(String(compiled.expression.run)).not.toContain('leaked');
    expect('leaked' in globalThis).toBe(false);
  });
});
