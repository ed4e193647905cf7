import { mkdir, mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { TestProject } from 'vitest/node';
import { once } from './once.ts';
import './pages.ts';

const PAGES = ['garage', 'line', 'gate', 'office', 'enrol', 'car', 'shop', 'workshop'];
const ROOT_FILES = [
  'icon.svg',
  'icon-192.png',
  'icon-512.png',
  'icon-maskable-512.png',
  'gate.webmanifest',
  'worker.js',
];

/** Files with the names that the build of the pages makes: for tests of who may fetch them, not of what is in them. */
export default async function setup(project: TestProject): Promise<() => Promise<void>> {
  const { value, release } = await once('stand-in-pages', async () => {
    const folder = await mkdtemp(join(tmpdir(), 'gridworthy-stand-in-'));
    for (const name of ['assets', ...PAGES]) await mkdir(join(folder, name));
    for (const name of PAGES) await writeFile(join(folder, name, 'index.html'), '<!doctype html><title>Page</title>');
    for (const name of ROOT_FILES) await writeFile(join(folder, name), '');
    return { folder, stop: () => rm(folder, { recursive: true, force: true }) };
  });
  project.provide('webDir', value.folder);
  return release;
}
