import { serveTasks } from '../../src/platform/threads/thread.ts';
import { ECHO, ENDLESS, FULL, SLOW, THROWS } from './odd-task-list.ts';

/** What threads of tests run. */
serveTasks([ECHO, THROWS, ENDLESS, FULL, SLOW]);
