import { mkdtemp, rm } from 'node:fs/promises';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { build } from 'vite';
import type { TestProject } from 'vitest/node';
import { once } from './once.ts';

declare module 'vitest' {
  interface ProvidedContext {
    /** Address of the folder with what threads run, compiled for this run: Node.js 20 starts no thread from TypeScript. */
    threadFolder: string;
  }
}

/** Compiles what threads run, each into one file. Below `node_modules`, so that they find the packages. */
export default async function setup(project: TestProject): Promise<() => Promise<void>> {
  const { value, release } = await once('threads', async () => {
    const folder = await mkdtemp(join(process.cwd(), 'node_modules/.gridworthy-threads-'));
    await build({
      configFile: false,
      logLevel: 'warn',
      build: {
        ssr: true,
        outDir: folder,
        minify: false,
        rolldownOptions: {
          input: { 'thread-tasks': 'src/thread-tasks.ts', 'odd-tasks': 'tests/support/odd-tasks.ts' },
          output: { entryFileNames: '[name].mjs', chunkFileNames: '[name]-[hash].mjs' },
        },
      },
    });
    return { folder, stop: () => rm(folder, { recursive: true, force: true }) };
  });
  project.provide('threadFolder', `${pathToFileURL(value.folder).href}/`);
  return release;
}
