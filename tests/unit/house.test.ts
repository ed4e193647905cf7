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

/** What a file opens when it runs: imports of types alone are gone by then. */
const opens = new Map<string, string[]>();
for (const [file, text] of TEXTS) {
  const imports = text.matchAll(/^(?:import|export) (?!type )([^;'"]*?)(?: ?from )?'(\.{1,2}\/[^']+)'/gm);
  const run = [...imports].filter(([, what = '']) => !/^\{(?:\s*type [^,}]+,?)+\s*\}$/.test(what));
  opens.set(
    file,
    run.map(([, , named = '']) => normalize(join(dirname(file), named))).filter((target) => TEXTS.has(target)),
  );
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

test('no file opens itself by way of others', () => {
  const done = new Set<string>();
  const cycles: string[][] = [];
  const walk = (file: string, way: readonly string[]): void => {
    if (way.includes(file)) cycles.push([...way.slice(way.indexOf(file)), file]);
    if (way.includes(file) || done.has(file)) return;
    for (const next of opens.get(file) ?? []) walk(next, [...way, file]);
    done.add(file);
  };
  for (const file of FILES) walk(file, []);
  expect(cycles).toEqual([]);
  expect([...opens.values()].flat().length).toBeGreaterThan(1500);
});

// What somebody reads who follows a request: the use case, and all that it opens in features/ and records/. Frame, domain
// and platform are learned once for all requests; a task is the program of a thread.
test.each([
  ['declare/submit.ts', 20],
  ['line/sign-off.ts', 20],
  ['gate/look-up.ts', 5],
  ['rules/publish.ts', 5],
  ['notify/webhook.job.ts', 13],
])('whoever follows %s reads at most %i files', (start, most) => {
  const read = new Set([`src/features/${start}`]);
  for (const file of read) {
    for (const next of opens.get(file) ?? []) {
      if (/^src\/(?:features|records)\//.test(next) && !next.endsWith('.task.ts')) read.add(next);
    }
  }
  expect(read.size, [...read].join('\n')).toBeLessThanOrEqual(most);
  expect(TEXTS.has(`src/features/${start}`)).toBe(true);
});
