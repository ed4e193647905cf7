import canonicalizeModule from 'canonicalize';
import { expect, test } from 'vitest';
import { goodAnswers } from '../../../seed/answers.ts';
import { BUILT_IN_RULE_SET } from '../../../seed/built-in.ts';
import { CARS } from '../../../seed/cars.ts';
import { parseAnswers } from '../../../src/domain/declaration/declaration.ts';
import { compileRuleSet, evaluate } from '../../../src/domain/rules/judge/evaluate.ts';
import { type Finding, tallyOf } from '../../../src/domain/rules/model/finding.ts';
import { RuleSet } from '../../../src/domain/rules/model/rule-set.ts';
import { canonicalFindings, keepFindings, tallyOfStored, tellWhole } from '../../../src/records/judging/inspections.ts';

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
  for (const _time of [1, 2]) expect(canonicalFindings(findings)).toBe(canonicalize(findings));
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
