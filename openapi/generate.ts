import { readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { renderCalculationForms } from './calculation-forms.ts';
import { describeDifferences } from './compare.ts';
import { renderBuiltDocuments, renderDocuments, renderRuleSetSchema, renderWholeDocument } from './document.ts';
import { renderWebClient } from './web-client.ts';

/** What is generated and committed, and what it is made from. */
async function renderFiles(): Promise<{ file: string; says: string; generated: string }[]> {
  const documents = Object.entries(await renderDocuments());
  return [
    ...documents.map(([name, generated]) => ({ file: `openapi/${name}.json`, says: 'the routes say', generated })),
    {
      file: 'openapi/rule-set.schema.json',
      says: 'the rule set schemas say',
      generated: await renderRuleSetSchema(),
    },
  ];
}
const CLIENT = 'src/web/api/operations.ts';
const FORMS = 'src/web/api/calculation-forms.json';

/**
 * Writes the generated files; with `check` compares instead and prints what differs.
 *
 * @returns the exit code: 1 when a committed file is not what the code says
 */
export async function generate({ check }: { check: boolean }): Promise<0 | 1> {
  let result: 0 | 1 = 0;
  for (const { file, says, generated } of await renderFiles()) {
    // scripts run in the folder of the project; the built copy of this file lies elsewhere
    const path = join(process.cwd(), file);
    if (!check) {
      await writeFile(path, generated);
      say(`wrote ${path}`);
      continue;
    }
    const committed = await readFile(path, 'utf8').catch(() => '{}');
    const differences = describeDifferences(committed, generated);
    if (differences.length === 0) continue;
    say(`${file} differs from what ${says} (run \`npm run openapi:generate\`):`);
    for (const line of differences) say(line);
    result = 1;
  }
  return result;
}

function say(line: string): void {
  process.stdout.write(`${line}\n`);
}

const BUILT = 'dist/openapi/documents.json';

/**
 * Writes what is not committed and belongs to what was compiled: the client of the pages, what they ask for each computation, and the documents that the
 * compiled server serves. It is made by `src/build.mjs` with everything that is compiled.
 */
export async function generateClient(): Promise<void> {
  await writeChanged(CLIENT, renderWebClient(await renderWholeDocument()));
  await writeChanged(FORMS, renderCalculationForms());
  await writeFile(join(process.cwd(), BUILT), await renderBuiltDocuments());
}

/** A file that stays as it is does not look new to whatever is made from it. */
async function writeChanged(file: string, content: string): Promise<void> {
  const path = join(process.cwd(), file);
  if (content !== (await readFile(path, 'utf8').catch(() => ''))) await writeFile(path, content);
}

if (process.argv[1] !== undefined && import.meta.url === pathToFileURL(process.argv[1]).href) {
  const check = process.argv.includes('--check');
  if (!process.argv.includes('--client')) process.exitCode = await generate({ check });
  if (!check) await generateClient();
}
