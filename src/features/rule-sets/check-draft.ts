import { createHash } from 'node:crypto';
import { checkRuleSetInSteps } from '../../domain/rules/check.ts';
import { readYamlInSteps, type YamlRead } from '../../http/yaml-read.ts';
import type { JsonObject } from '../../http/json-object.ts';
import { canonicalHash } from '../../platform/canonical-json.ts';
import { runInSlices } from '../../platform/in-slices.ts';
import type { CheckView } from './schemas.ts';

/** A document as it was sent: JSON, or YAML with the text as it was written. */
export interface Draft {
  document: JsonObject;
  text?: string;
}

const KEPT = 20;
const checks = new Map<string, Promise<CheckView>>();

type Readable = Extract<YamlRead, { ok: true }>;

function* check(document: unknown, source?: Readable['source']): Generator<undefined, CheckView> {
  const checked = yield* checkRuleSetInSteps(document);
  const place = <T extends { pointer: string; at?: { offset: number } }>(one: T) =>
    source === undefined ? one : { ...one, place: source.placeOf(one.pointer, one.at?.offset) };
  const warnings = checked.warnings.map(place);
  return checked.ok ? { ok: true, faults: [], warnings } : { ok: false, faults: checked.faults.map(place), warnings };
}

function* checkText(text: string): Generator<undefined, CheckView> {
  const read = yield* readYamlInSteps(text);
  if (!read.ok) return { ok: false, faults: read.faults, warnings: [] };
  return yield* check(read.value, read.source);
}

/** What is asked often is kept: the check depends on the document alone and runs every example. */
function kept(key: string, make: () => Generator<undefined, CheckView>): Promise<CheckView> {
  const known = checks.get(key);
  if (known !== undefined) return known;
  const made = runInSlices(make());
  checks.set(key, made);
  made.catch(() => checks.delete(key));
  const oldest = checks.keys().next().value;
  if (checks.size > KEPT && oldest !== undefined) checks.delete(oldest);
  return made;
}

/** What the static check says of a text, which need not even be YAML; each fault with its line and column. */
export async function checkYaml(text: string): Promise<CheckView> {
  return kept(createHash('sha256').update(text).digest('base64'), () => checkText(text));
}

/** What the static check says of a draft, without what it compiled. */
export async function checkDraft({ document, text }: Draft, contentHash = canonicalHash(document)): Promise<CheckView> {
  return text === undefined ? kept(contentHash, () => check(document)) : checkYaml(text);
}
