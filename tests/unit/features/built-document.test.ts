import { createHash } from 'node:crypto';
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { compiledState, readBuiltDocument } from '../../../src/features/service/document-routes.ts';

const TEXT = '{"openapi":"3.1.1"}';
let folder: string;
let document: URL;
let compiled: URL;

beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'built-document-'));
  document = pathToFileURL(join(folder, 'document.json'));
  compiled = pathToFileURL(join(folder, '.tsbuildinfo'));
});
afterEach(() => rm(folder, { recursive: true, force: true }));

const build = async (code: string): Promise<void> => {
  await writeFile(compiled, code);
  await writeFile(document, JSON.stringify({ of: await compiledState(compiled), text: TEXT }));
};

test('a document of this very code is served as it was built', async () => {
  await build('code');
  expect(await readBuiltDocument(document, compiled)).toBe(TEXT);
});

test('the state is that of the content: SHA-256, as the hash of Node.js has it', async () => {
  await writeFile(compiled, 'code');
  const expected = createHash('sha256').update('code').digest('base64url').slice(0, 16);
  expect(await compiledState(compiled)).toBe(expected);
});

test('one of other code is made anew', async () => {
  await build('code');
  await writeFile(compiled, 'code, changed');
  expect(await readBuiltDocument(document, compiled)).toBeUndefined();
});

test('a packed build has nothing of the compiler, and what it has was built together', async () => {
  await build('code');
  await rm(compiled);
  await writeFile(document, JSON.stringify({ of: null, text: TEXT }));
  expect(await readBuiltDocument(document, compiled)).toBe(TEXT);
});

test('none, and one that was cut off, are made anew', async () => {
  expect(await readBuiltDocument(document, compiled)).toBeUndefined();
  await build('code');
  await writeFile(document, '{"of":"x","te');
  expect(await readBuiltDocument(document, compiled)).toBeUndefined();
  await rm(compiled);
  expect(await readBuiltDocument(document, compiled)).toBeUndefined();
});
