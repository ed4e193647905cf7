import { serveTasks } from './platform/threads/thread.ts';
import { csvReadTask } from './features/entries/import/csv-read.task.ts';
import { writeTableTask } from './features/entries/export/write-table.task.ts';
import { readListTask } from './features/entries/list/read-list.task.ts';
import { writePdfTask } from './features/office/paper/write-pdf.task.ts';
import { jsonBodyTask } from './http/body/json-body.ts';
import { planTask } from './features/line/times/plan.task.ts';
import { limitFormsTask } from './features/rules/limits.task.ts';
import { foreseeTask, recallsTask } from './features/set-up/foresee.task.ts';
import { fitRulesTask, resolveRulesTask, ruleCheckTask } from './records/judging/rules.task.ts';
import { trialTask } from './records/judging/trial.task.ts';

/** What a thread runs; every task is in this list. */
serveTasks([
  jsonBodyTask,
  csvReadTask,
  readListTask,
  writeTableTask,
  writePdfTask,
  ruleCheckTask,
  resolveRulesTask,
  limitFormsTask,
  fitRulesTask,
  trialTask,
  recallsTask,
  foreseeTask,
  planTask,
]);
