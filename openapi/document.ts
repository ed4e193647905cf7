import type { FastifyInstance } from 'fastify';
import { buildApp } from '../src/app.ts';
import { loadConfig } from '../src/config.ts';
import { openDeps } from '../src/deps.ts';
import {
  apiDocument,
  type BuiltDocuments,
  type ByDocument,
  compiledState,
  leanDocuments,
  mapDocuments,
  renderDocuments as renderServed,
} from '../src/features/service/document-routes.ts';
import { ruleSetJsonSchema } from '../src/http/openapi/rule-set-schema.ts';
import { createLogger } from '../src/platform/logger.ts';

/** Never asked: building the application connects to nothing. */
const NOWHERE = 'postgres://nobody@127.0.0.1:1/nothing';

/** The OpenAPI documents of this version, as the committed files have them: keys in a stable order, a path per line. */
export async function renderDocuments(): Promise<ByDocument<string>> {
  return mapDocuments(leanDocuments(await wholeDocument()), (document) => inLines(sorted(document, [])));
}

/** The document with everything at its place, which the pages' client is made from. */
export async function renderWholeDocument(): Promise<string> {
  return JSON.stringify(sorted(await wholeDocument(), []));
}

/** The documents as a server of this build serves them, to lie beside what was compiled. */
export async function renderBuiltDocuments(): Promise<string> {
  const built: BuiltDocuments = { of: await compiledState(), texts: await withApp(renderServed) };
  return JSON.stringify(built);
}

const wholeDocument = (): Promise<Json> => withApp(apiDocument);

async function withApp<T>(use: (app: FastifyInstance) => T): Promise<T> {
  const config = loadConfig({ LOG_LEVEL: 'silent' });
  const deps = openDeps(config, NOWHERE, createLogger({ level: 'silent' }));
  const app = await buildApp(deps);
  try {
    await app.ready();
    return use(app);
  } finally {
    await app.close();
    await deps.db.close();
  }
}

/** The JSON Schema of a rule set, as the committed file has it. */
export async function renderRuleSetSchema(): Promise<string> {
  return `${JSON.stringify(ruleSetJsonSchema(), null, 2)}\n`;
}

type Json = Record<string, unknown>;

/** Parts of the document that are lists of named things, and how deep the things are. */
const LISTS: Readonly<Record<string, 1 | 2>> = { paths: 1, webhooks: 1, components: 2 };

/** A line for each path, each webhook and each component: a change shows where it is, and the rest is not repeated. */
function inLines(document: unknown): string {
  const parts = Object.entries(document as Json).map(
    ([key, part]) => `${JSON.stringify(key)}:${linesOf(part, LISTS[key] ?? 0)}`,
  );
  return `{\n${parts.join(',\n')}\n}\n`;
}

function linesOf(node: unknown, depth: number): string {
  if (depth === 0) return JSON.stringify(node);
  const rows = Object.entries(node as Json).map(([key, part]) => `${JSON.stringify(key)}:${linesOf(part, depth - 1)}`);
  return `{\n${rows.join(',\n')}\n}`;
}

const TOP = ['openapi', 'info', 'servers', 'tags', 'security', 'paths', 'components', 'webhooks'];
/** Below these, keys are names of ours or of a caller, and their order may mean something to a reader. */
const KEPT = new Set(['properties', 'example', 'default', 'enum', 'const']);

function sorted(value: unknown, path: readonly string[]): unknown {
  if (Array.isArray(value)) return value.map((part, i) => sorted(part, [...path, String(i)]));
  if (typeof value !== 'object' || value === null) return value;
  const entries = Object.entries(value);
  const parent = path.at(-1) ?? '';
  if (parent === 'example') return value;
  if (path.length === 0) entries.sort(([a], [b]) => rank(a) - rank(b));
  else if (parent === 'schemas' && path.length === 2) entries.sort(([a], [b]) => (nounOf(a) < nounOf(b) ? -1 : 1));
  else if (!KEPT.has(parent)) entries.sort(([a], [b]) => (a < b ? -1 : 1));
  return Object.fromEntries(entries.map(([key, part]) => [key, sorted(part, [...path, key])]));
}

const FORMS =
  /^(Create|Update|Mint|New|Replace|Save|Submit|Place|Lift|Grant|Start|Written|Created|Minted)(?=[A-Z])|(Input|View|List|Changes|Replacement)(?![a-z])/g;

/** Schemas of one noun stand together: what is sent beside what is answered, which is alike and packs well. */
const nounOf = (name: string): string => `${name.replaceAll(FORMS, '')} ${name}`;

function rank(key: string): number {
  const place = TOP.indexOf(key);
  return place === -1 ? TOP.length : place;
}
