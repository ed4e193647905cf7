import { createHash } from 'node:crypto';
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { compiledState, readBuiltDocuments } from '../../../src/features/service/document-routes.ts';

const TEXT = '{"openapi":"3.1.1"}';
const TEXTS = { openapi: TEXT, 'openapi-office': TEXT, 'openapi-calculations': TEXT };
let folder: string;
let document: URL;
let compiled: URL;

beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'built-document-'));
  document = pathToFileURL(join(folder, 'documents.json'));
  compiled = pathToFileURL(join(folder, '.tsbuildinfo'));
});
afterEach(() => rm(folder, { recursive: true, force: true }));

const build = async (code: string): Promise<void> => {
  await writeFile(compiled, code);
  await writeFile(document, JSON.stringify({ of: await compiledState(compiled), texts: TEXTS }));
};

test('documents of this very code are served as they were built', async () => {
  await build('code');
  expect(await readBuiltDocuments(document, compiled)).toEqual(TEXTS);
});

test('the state is that of the content: SHA-256, as the hash of Node.js has it', async () => {
  await writeFile(compiled, 'code');
  const expected = createHash('sha256').update('code').digest('base64url').slice(0, 16);
  expect(await compiledState(compiled)).toBe(expected);
});

test('those of other code are made anew', async () => {
  await build('code');
  await writeFile(compiled, 'code, changed');
  expect(await readBuiltDocuments(document, compiled)).toBeUndefined();
});

test('a packed build has nothing of the compiler, and what it has was built together', async () => {
  await build('code');
  await rm(compiled);
  await writeFile(document, JSON.stringify({ of: null, texts: TEXTS }));
  expect(await readBuiltDocuments(document, compiled)).toEqual(TEXTS);
});

test('none, and one that was cut off, are made anew', async () => {
  expect(await readBuiltDocuments(document, compiled)).toBeUndefined();
  await build('code');
  await writeFile(document, '{"of":"x","te');
  expect(await readBuiltDocuments(document, compiled)).toBeUndefined();
  await rm(compiled);
  expect(await readBuiltDocuments(document, compiled)).toBeUndefined();
});
