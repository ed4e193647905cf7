import type { ClearanceFacts } from '../../domain/clearance/clearance.ts';
import { type Answers, parseAnswers } from '../../domain/declaration/declaration.ts';
import { decideRejudge, recallingRules } from '../../domain/clearance/rejudge.ts';
import type { Finding } from '../../domain/rules/model/finding.ts';
import { NO_CHANGES } from '../../domain/rules/overlay/overlay.ts';
import { defineThreadTask } from '../../platform/threads/thread.ts';
import { type JudgedWith, judgeEntry } from '../../records/judging/judge-entry.ts';
import { compiledFrom, type SentRules } from '../../records/judging/rules.task.ts';

/** Rules that judged, and those that would. */
interface TwoRules {
  before: SentRules;
  after: SentRules;
}

/** Whether any rule of `after` sends back cars that `before` judged. */
export const recallsTask = defineThreadTask<TwoRules, boolean>({
  name: 'rejudgement.recalls',
  processorMs: 2000,
  clockMs: 20_000,
  run: ({ before, after }) => recallingRules(compiledFrom(before).ruleSet, compiledFrom(after).ruleSet).size > 0,
});

/** An accepted car with all that judging it at the line needs. */
export interface AcceptedCar {
  facts: ClearanceFacts;
  answers: unknown;
  measured: Answers;
  context: JudgedWith;
}

/** A finding that sends a car back. */
export type RecallCause = Pick<Finding, 'ruleId' | 'title' | 'position' | 'message'>;

/** For each car what would send it back to the line; empty: it stays accepted. */
export const foreseeTask = defineThreadTask<
  TwoRules & { cars: readonly AcceptedCar[]; now: Date },
  readonly (readonly RecallCause[])[]
>({
  name: 'rejudgement.foresee',
  processorMs: 2000,
  clockMs: 20_000,
  run({ before, after, cars, now }) {
    const rules = { compiled: compiledFrom(after), origins: NO_CHANGES };
    return cars.map(({ facts, answers, measured, context }) => {
      const parsed = parseAnswers(answers);
      const input = { answers: parsed.ok ? parsed.answers : new Map(), measured, stage: 'line', now } as const;
      const atLine = () => judgeEntry(rules, context, input);
      const decision = decideRejudge(facts, compiledFrom(before).ruleSet, rules.compiled.ruleSet, atLine);
      return decision.act === 'recall' ? decision.findings.map(viewCause) : [];
    });
  },
});

function viewCause({ ruleId, title, position, message }: Finding): RecallCause {
  return { ruleId, title, ...(position === undefined ? {} : { position }), message };
}
