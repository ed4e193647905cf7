import { z } from 'zod';
import { openBreather } from '../../platform/wait.ts';

/**
 * The JSON text of a list, item by item through its schema, as the framework writes an answer; others have their turn in
 * between. For lists that take longer to write than a lookup at the gate may wait.
 *
 * @returns with brackets
 * @throws ZodError for an item that is not of its schema: a fault of ours
 */
export async function writeList<T extends z.ZodType>(schema: T, items: Iterable<z.output<T>>): Promise<string> {
  const breathe = openBreather();
  const texts: string[] = [];
  for (const item of items) {
    texts.push(JSON.stringify(z.encode(schema, item)));
    await breathe();
  }
  return `[${texts.join(',')}]`;
}
