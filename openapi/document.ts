import { buildApp } from '../src/app.ts';
import { loadConfig } from '../src/config.ts';
import { openDeps } from '../src/deps.ts';
import { apiDocument } from '../src/features/service/document.ts';
import { ruleSetJsonSchema } from '../src/http/rule-set-schema.ts';
import { createLogger } from '../src/platform/logger.ts';

/** Never asked: building the application connects to nothing. */
const NOWHERE = 'postgres://nobody@127.0.0.1:1/nothing';

/** The OpenAPI document of this version, as the committed file has it: keys in a stable order, two spaces, a line end. */
export async function renderDocument(): Promise<string> {
  const config = loadConfig({ LOG_LEVEL: 'silent' });
  const deps = openDeps(config, NOWHERE, createLogger({ level: 'silent' }));
  const app = await buildApp(deps);
  try {
    await app.ready();
    return `${JSON.stringify(sorted(apiDocument(app), []), null, 2)}\n`;
  } finally {
    await app.close();
    await deps.db.close();
  }
}

/** The JSON Schema of a rule set, as the committed file has it. */
export async function renderRuleSetSchema(): Promise<string> {
  return `${JSON.stringify(ruleSetJsonSchema(), null, 2)}\n`;
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
  else if (!KEPT.has(parent)) entries.sort(([a], [b]) => (a < b ? -1 : 1));
  return Object.fromEntries(entries.map(([key, part]) => [key, sorted(part, [...path, key])]));
}

function rank(key: string): number {
  const place = TOP.indexOf(key);
  return place === -1 ? TOP.length : place;
}
