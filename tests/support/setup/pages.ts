import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { build } from 'vite';
import type { TestProject } from 'vitest/node';
import { once } from './once.ts';

declare module 'vitest' {
  interface ProvidedContext {
    /** Folder of the pages that the test server serves: built for this run, or stand-ins where no page is looked at. */
    webDir: string;
  }
}

/** Builds the pages, once for the whole run. */
export default async function setup(project: TestProject): Promise<() => Promise<void>> {
  const { value, release } = await once('pages', async () => {
    const folder = await mkdtemp(join(tmpdir(), 'gridworthy-pages-'));
    await build({ configFile: 'src/web/vite.config.ts', logLevel: 'warn', build: { outDir: folder } });
    return { folder, stop: () => rm(folder, { recursive: true, force: true }) };
  });
  project.provide('webDir', value.folder);
  return release;
}
