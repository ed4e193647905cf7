import { cellKey } from '../declaration/cell.ts';
import { boundAnswer } from '../rules/kinds/answer.ts';
import { guardedLimit, type GuardedLimit } from '../rules/explain/explain-certainty.ts';
import { placeOfRule } from '../rules/says/says.ts';
import { bindRule, runOf } from '../rules/explain/explain-binder.ts';
import type { CompiledRuleSet } from '../rules/judge/evaluate.ts';
import type { Finding } from '../rules/model/finding.ts';
import type { JudgeInput } from '../rules/model/judge-input.ts';

/** One limit that a number at a point is held against. */
export interface PointLimit extends GuardedLimit {
  title: string;
  /** of an answer that has parts */
  part?: string | undefined;
}

/**
 * What the rules hold the numbers of a car against, by the place at which each is read (`pad.thickness@FL.in`). A rule on
 * trial is none, one that does not apply here, and one of which no limit is known on this car.
 *
 * @param findings all that the rules found, met ones too: where there is none, the rule does not apply
 */
export function pointLimits(
  compiled: CompiledRuleSet,
  input: JudgeInput,
  findings: readonly Finding[],
): Map<string, PointLimit[]> {
  const run = runOf(input);
  const found = new Set(findings.map(({ ruleId, position }) => placeOfRule(ruleId, position)));
  const limits = new Map<string, PointLimit[]>();
  for (const one of compiled.rules) {
    const { rule } = one;
    const { test } = rule;
    if (rule.watch || (test.kind !== 'limit' && test.kind !== 'range')) continue;
    const bound = bindRule(compiled, one, input);
    for (const position of bound.positions) {
      if (!found.has(placeOfRule(rule.id, position))) continue;
      const binder = bound.binder(position);
      const limit = guardedLimit(rule, binder, run);
      if (limit === undefined) continue;
      const [place = ''] = boundAnswer(test, binder).cell.split('#');
      const { title } = rule;
      limits.set(place, [
        ...(limits.get(place) ?? []),
        { ...limit, title, ...(test.field !== undefined && { part: test.field }) },
      ]);
    }
  }
  return limits;
}

/** The name of a point among them. */
export const placeOfPoint = ({ item, position }: { item: string; position?: string | undefined }): string =>
  cellKey(item, position);
