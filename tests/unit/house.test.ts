import { readdirSync, readFileSync } from 'node:fs';
import { dirname, join, normalize } from 'node:path';
import { expect, test } from 'vitest';

const ROOT = new URL('../..', import.meta.url).pathname;
const FILES = readdirSync(join(ROOT, 'src'), { recursive: true, encoding: 'utf8' })
  .map((file) => join('src', file))
  .filter((file) => /\.tsx?$/.test(file) && !/\.d\.ts$|prisma-client|node_modules/.test(file))
  // made from the document, and not committed
  .filter((file) => file !== 'src/web/api/operations.ts');
/** What a thread is started with: a program of its own, however short. */
const PROGRAMS = new Set(['src/thread-tasks.ts']);
const TEXTS = new Map(FILES.map((file) => [file, readFileSync(join(ROOT, file), 'utf8')]));

/** Which files of the program name each file, in whatever way. */
const importers = new Map<string, Set<string>>();
for (const [file, text] of TEXTS) {
  for (const [, named = ''] of text.matchAll(/'(\.{1,2}\/[^'\n]+\.(?:tsx?|js))'/g)) {
    const target = normalize(join(dirname(file), named.replace(/\.js$/, '.ts')));
    importers.set(target, (importers.get(target) ?? new Set()).add(file));
  }
}

// Common practice, no source: what is opened only from one place, and is shorter than a screen, is read there.
test('no file of a few lines stands apart from the only one that uses it', () => {
  const crumbs = FILES.filter(
    (file) =>
      !PROGRAMS.has(file) && importers.get(file)?.size === 1 && (TEXTS.get(file)?.split('\n').length ?? 0) <= 40,
  );
  expect(crumbs).toEqual([]);
  expect(importers.size).toBeGreaterThan(400);
});

test('no folder holds more files than one looks through', () => {
  const folders = new Map<string, number>();
  for (const file of FILES) folders.set(dirname(file), (folders.get(dirname(file)) ?? 0) + 1);
  expect([...folders].filter(([, files]) => files > 20)).toEqual([]);
});
