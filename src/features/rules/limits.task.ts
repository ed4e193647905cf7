import { type LimitForm, limitForms } from '../../domain/rules/overlay/limit-uses.ts';
import { RuleSet } from '../../domain/rules/model/rule-set.ts';
import { defineThreadTask } from '../../platform/threads/thread.ts';

/** What forms for the limits of a rule set need, by name; every rule is compiled for it. */
export const limitFormsTask = defineThreadTask<{ document: string }, [string, LimitForm][]>({
  name: 'rules.limits',
  processorMs: 2000,
  clockMs: 20_000,
  run: ({ document }) => [...limitForms(RuleSet.parse(JSON.parse(document)))],
});
