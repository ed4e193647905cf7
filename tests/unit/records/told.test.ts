import canonicalizeModule from 'canonicalize';
import { createHash } from 'node:crypto';
import { brotliCompressSync, brotliDecompressSync } from 'node:zlib';
import { describe, expect, test } from 'vitest';
import { goodAnswers } from '../../../seed/answers.ts';
import { BUILT_IN_RULE_SET } from '../../../seed/built-in.ts';
import { CARS } from '../../../seed/cars.ts';
import { parseAnswers } from '../../../src/domain/declaration/declaration.ts';
import { compileRuleSet, evaluate } from '../../../src/domain/rules/judge/evaluate.ts';
import { type Finding, tallyOf } from '../../../src/domain/rules/model/finding.ts';
import { RuleSet } from '../../../src/domain/rules/model/rule-set.ts';
import { canonicalFinding } from '../../../src/domain/rules/model/canonical-finding.ts';
import { digestOfFindings, keepFindings, tallyOfStored, tellWhole } from '../../../src/records/judging/inspections.ts';
import { packLists, unpackLists } from '../../../src/records/judging/signed-lists.ts';

const EVENT = { startsOn: '2026-06-13', endsOn: '2026-06-14' };
const compiled = compileRuleSet(RuleSet.parse(BUILT_IN_RULE_SET));
const by = (kind: 'coupe' | 'hatch') => ({ parameters: {}, event: EVENT, vehicle: CARS[kind] });

function judged(kind: 'coupe' | 'hatch', given: Record<string, unknown>) {
  const parsed = parseAnswers(given);
  if (!parsed.ok) throw new Error('unreadable');
  const rest = { venue: {}, concessions: [], photos: {}, unconfirmed: ['massKg'], stage: 'declaration' } as const;
  return evaluate(compiled, { ...by(kind), ...rest, answers: parsed.answers });
}
const good = judged('coupe', goodAnswers(CARS.coupe, EVENT.startsOn));

test.each([
  ['of a good car', good.findings],
  ['of one of which nothing is known', judged('hatch', {}).findings],
  ['as they come back from the database', JSON.parse(JSON.stringify(good.findings)) as Finding[]],
  ['none', []],
])('findings %s are written in the canonical form of RFC 8785', (_what, findings) => {
  // twice, because texts are kept; against the reference implementation of the RFC's author list
  const canonicalize = canonicalizeModule as unknown as (value: unknown) => string;
  for (const _time of [1, 2]) {
    expect(findings.map(canonicalFinding)).toEqual(findings.map(canonicalize));
    expect(digestOfFindings(findings)).toBe(createHash('sha256').update(canonicalize(findings)).digest('hex'));
  }
});

test('what is kept gives the counts, and all findings once they are judged again', () => {
  const kept = keepFindings(compiled, by('coupe'), good);
  expect(JSON.stringify(kept).length).toBeLessThan(JSON.stringify(good.findings).length / 4);
  expect(tallyOfStored(kept)).toEqual(tallyOf(good.findings));
  const again = judged('coupe', goodAnswers(CARS.coupe, EVENT.startsOn)).findings;
  expect(tellWhole(compiled, by('coupe'), kept, again)).toEqual({ findings: good.findings, judgedAgain: 'same' });
  const other = { ...kept, kept: { ...kept.kept, findingsSha256: '0'.repeat(64) } };
  expect(tellWhole(compiled, by('coupe'), other, again).judgedAgain).toBe('differs');
  // whole in a row from before
  expect(tellWhole(compiled, by('coupe'), { findings: good.findings, kept: null }, []).findings).toBe(good.findings);
});

test('a finding with a key that this version does not know keeps it in its canonical form', () => {
  const canonicalize = canonicalizeModule as unknown as (value: unknown) => string;
  const [finding] = good.findings;
  const older = { ...finding, aside: { b: 1, a: 2 } } as unknown as Finding;
  expect(canonicalFinding(older)).toBe(canonicalize(older));
});

describe('lists of a decision', () => {
  const car = { vehicle: CARS.coupe, unconfirmed: ['massKg'] };
  const worn = judged('coupe', { ...goodAnswers(CARS.coupe, EVENT.startsOn), 'brake.pedal': 'spongy' }).findings;
  const asStored = (findings: readonly Finding[]) => JSON.parse(JSON.stringify(findings)) as Finding[];
  const shorter = good.findings.slice(3);

  test.each([
    ['the same', good.findings, good.findings],
    ['one that is otherwise', good.findings, worn],
    ['fewer', shorter, good.findings],
    ['more', good.findings, shorter],
    ['in another order', good.findings.toReversed(), good.findings],
    ['none', [], good.findings],
  ])('are read as they were written: %s', (_what, shown, line) => {
    const { lists, listsSha256 } = packLists({ car, shown, line, told: worn });
    const read = unpackLists(lists);
    expect(read.lists).toEqual({ car, shown: asStored(shown), line: asStored(line), told: asStored(worn) });
    const bytes = brotliDecompressSync(lists);
    expect(listsSha256).toBe(createHash('sha256').update(bytes).digest('hex'));
    expect(read.listsSha256).toBe(listsSha256);
  });

  test('what came out the same at the line is written once', () => {
    const whole = brotliDecompressSync(packLists({ car, shown: worn, line: good.findings }).lists);
    expect(whole.length).toBeLessThan(JSON.stringify(good.findings).length * 1.1);
  });

  test('are read from before, when each was whole, and are damaged where they name a finding that is not there', () => {
    const text = JSON.stringify({ car, line: good.findings, shown: worn });
    expect(unpackLists(brotliCompressSync(text)).lists).toEqual({
      car,
      line: asStored(good.findings),
      shown: asStored(worn),
    });
    const damaged = JSON.stringify({ car, line: good.findings, shown: [good.findings.length] });
    expect(() => unpackLists(brotliCompressSync(damaged))).toThrow('does not have');
  });
});
