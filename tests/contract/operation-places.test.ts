import { readdirSync, readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { DOCUMENT_NAMES } from '../../src/http/openapi/documents.ts';
import without from '../../openapi/places.json' with { type: 'json' };

const WEB = new URL('../../src/web/', import.meta.url);
const METHODS = ['get', 'put', 'post', 'delete', 'patch'];

interface Document {
  paths: Record<string, Record<string, { operationId?: string }>>;
}
const read = (name: string): Document =>
  JSON.parse(readFileSync(new URL(`../../openapi/${name}.json`, import.meta.url), 'utf8')) as Document;

const operations = DOCUMENT_NAMES.flatMap((name) => Object.values(read(name).paths)).flatMap((path) =>
  Object.entries(path).flatMap(([method, { operationId }]) => (METHODS.includes(method) ? (operationId ?? []) : [])),
);

/** Every word of the pages' own code; the generated client names each operation and uses none. */
const used = new Set(
  readdirSync(WEB, { recursive: true, encoding: 'utf8' })
    .filter((file) => /\.tsx?$/.test(file) && !file.startsWith('api/'))
    .flatMap((file) => readFileSync(new URL(file, WEB), 'utf8').match(/\w+/g) ?? []),
);

/** A computation is one of a family: the rules use them, and none has a page. */
const isComputation = (operation: string): boolean => /^calculate[A-Z]/.test(operation);

test('every operation of the API has its place in a page, or says why it has none', () => {
  const placeless = operations.filter((one) => !used.has(one) && !isComputation(one) && !Object.hasOwn(without, one));
  expect(placeless).toEqual([]);
});

test('what is said to have no place has none, and is an operation', () => {
  const wrong = Object.keys(without).filter((one) => used.has(one) || !operations.includes(one));
  expect(wrong).toEqual([]);
});
