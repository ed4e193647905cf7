import { defineThreadTask } from '../../platform/threads/thread-task.ts';
import { findUntakeable, type Unstorable } from './json-object.ts';

/** What is wrong with a body: it is no JSON, or not JSON that can be taken. */
export type BodyFault = { malformed: string } | Unstorable;

/** Looks at a large JSON body before it is read where requests are answered. */
export const jsonBodyTask = defineThreadTask<string, BodyFault | undefined>({
  name: 'body.look',
  processorMs: 1500,
  clockMs: 20_000,
  run(text) {
    let value: unknown;
    try {
      value = JSON.parse(text);
    } catch (error) {
      return { malformed: error instanceof Error ? error.message : String(error) };
    }
    return findUntakeable(value);
  },
});
