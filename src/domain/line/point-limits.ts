import { cellKey } from '../declaration/read-answer.ts';
import { DEFAULT_LANGUAGE } from '../language.ts';
import { boundAnswer } from '../rules/kinds/answer.ts';
import { guardedLimit, type GuardedLimit } from '../rules/explain/explain-certainty.ts';
import { placeOfRule } from '../rules/says/says.ts';
import { bindRule, type BoundRule, runOf } from '../rules/explain/explain-binder.ts';
import type { CompiledRuleSet } from '../rules/judge/evaluate.ts';
import type { Finding } from '../rules/model/finding.ts';
import type { Run } from '../rules/judge/run.ts';
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
  { findings, language = DEFAULT_LANGUAGE }: { findings: readonly Finding[]; language?: string },
): Map<string, PointLimit[]> {
  const run = runOf(input);
  const found = new Set(findings.map(({ ruleId, position }) => placeOfRule(ruleId, position)));
  const limits = new Map<string, PointLimit[]>();
  for (const one of compiled.rules) {
    const { rule } = one;
    if (rule.watch || (rule.test.kind !== 'limit' && rule.test.kind !== 'range')) continue;
    const bound = bindRule(compiled, one, input);
    for (const position of bound.positions) {
      if (!found.has(placeOfRule(rule.id, position))) continue;
      const { place, limit } = limitAt(bound, position, { run, language });
      if (limit !== undefined) limits.set(place, [...(limits.get(place) ?? []), limit]);
    }
  }
  return limits;
}

function limitAt(
  { rule, binder: bind }: BoundRule,
  position: string | undefined,
  { run, language }: { run: Run; language: string },
): { place: string; limit: PointLimit | undefined } {
  const { test } = rule;
  const binder = bind(position);
  const limit = guardedLimit(rule, binder, run);
  if (limit === undefined || (test.kind !== 'limit' && test.kind !== 'range')) return { place: '', limit: undefined };
  const [place = ''] = boundAnswer(test, binder).cell.split('#');
  const title = rule.texts?.[language]?.title ?? rule.title;
  return { place, limit: { ...limit, title, ...(test.field !== undefined && { part: test.field }) } };
}

/** The name of a point among them. */
export const placeOfPoint = ({ item, position }: { item: string; position?: string | undefined }): string =>
  cellKey(item, position);
