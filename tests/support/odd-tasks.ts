import { serveTasks } from '../../src/platform/threads/thread-host.ts';
import { ECHO, ENDLESS, FULL, SLOW, THROWS } from './odd-task-list.ts';

/** What threads of tests run. */
serveTasks([ECHO, THROWS, ENDLESS, FULL, SLOW]);
