import { chmod, mkdtemp, rm } from 'node:fs/promises';
import { basename, join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { build } from 'vite';
import type { TestProject } from 'vitest/node';
import { once } from './once.ts';

declare module 'vitest' {
  interface ProvidedContext {
    /**
     * Address of the folder with what threads and child processes run, compiled for this run: Node.js 20 starts neither
     * from TypeScript, and a loader would compile everything anew in each of them.
     */
    threadFolder: string;
  }
}

/** What is compiled, each under its own name. */
const PROGRAMS = [
  'src/thread-tasks.ts',
  'tests/support/odd-tasks.ts',
  'tests/support/embedded-postgres-child.ts',
  'tests/support/photo-child.ts',
  'tests/support/process-life-child.ts',
  'tests/faults/guarded-program.ts',
];

/** Compiles what threads and child processes run, each into one file. Below `node_modules`, so that they find the packages. */
export default async function setup(project: TestProject): Promise<() => Promise<void>> {
  const { value, release } = await once('threads', async () => {
    const folder = await mkdtemp(join(process.cwd(), 'node_modules/.gridworthy-threads-'));
    // Some child processes run as another user.
    await chmod(folder, 0o755);
    await build({
      configFile: false,
      logLevel: 'warn',
      build: {
        ssr: true,
        outDir: folder,
        minify: false,
        rolldownOptions: {
          input: Object.fromEntries(PROGRAMS.map((file) => [basename(file, '.ts'), file])),
          output: { entryFileNames: '[name].mjs', chunkFileNames: '[name]-[hash].mjs' },
        },
      },
    });
    return { folder, stop: () => rm(folder, { recursive: true, force: true }) };
  });
  project.provide('threadFolder', `${pathToFileURL(value.folder).href}/`);
  return release;
}
