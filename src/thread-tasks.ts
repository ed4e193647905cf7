import { serveTasks } from './platform/thread-host.ts';
import { csvReadTask } from './features/entries/csv-read.task.ts';
import { jsonBodyTask } from './http/json-body.task.ts';
import { foreseeTask, recallsTask } from './features/run-groups/foresee.task.ts';
import { ruleCheckTask } from './records/rule-check.task.ts';
import { fitRulesTask, resolveRulesTask } from './records/rules.task.ts';
import { trialTask } from './records/trial.task.ts';

/** What a thread runs; every task is in this list. */
serveTasks([
  jsonBodyTask,
  csvReadTask,
  ruleCheckTask,
  resolveRulesTask,
  fitRulesTask,
  trialTask,
  recallsTask,
  foreseeTask,
]);
