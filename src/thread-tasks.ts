import { serveTasks } from './platform/thread-host.ts';
import { csvReadTask } from './features/entries/csv-read.task.ts';
import { jsonBodyTask } from './http/json-body.task.ts';
import { ruleCheckTask } from './records/rule-check.task.ts';

/** What a thread runs; every task is in this list. */
serveTasks([jsonBodyTask, csvReadTask, ruleCheckTask]);
