import { readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { describeDifferences } from './compare.ts';
import { renderDocument } from './document.ts';

/** Scripts run in the folder of the project; the built copy of this file lies elsewhere. */
const FILE = join(process.cwd(), 'openapi', 'openapi.json');

/**
 * Writes `openapi/openapi.json`; with `check` compares instead and prints what differs.
 *
 * @returns the exit code: 1 when the committed file is not what the routes say
 */
export async function generate({ check }: { check: boolean }): Promise<0 | 1> {
  const generated = await renderDocument();
  if (!check) {
    await writeFile(FILE, generated);
    say(`wrote ${FILE}`);
    return 0;
  }
  const committed = await readFile(FILE, 'utf8').catch(() => '{}');
  const differences = describeDifferences(committed, generated);
  if (differences.length === 0) return 0;
  say('openapi/openapi.json differs from what the routes say (run `npm run openapi:generate`):');
  for (const line of differences) say(line);
  return 1;
}

function say(line: string): void {
  process.stdout.write(`${line}\n`);
}

if (process.argv[1] !== undefined && import.meta.url === pathToFileURL(process.argv[1]).href) {
  process.exitCode = await generate({ check: process.argv.includes('--check') });
}
