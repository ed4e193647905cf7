import { findItem } from '../../../domain/catalogue/catalogue.ts';
import { hasBasis } from '../../../domain/declaration/basis.ts';
import { isNoAnswer } from '../../../domain/declaration/no-answer.ts';
import { isJsonObject } from '../../../domain/declaration/read-answer.ts';
import { canonicalJson } from '../../../platform/canonical-json.ts';

/** Answers as they are sent, by item. */
export type Raw = Readonly<Record<string, unknown>>;

const isSame = (a: unknown, b: unknown): boolean => canonicalJson(a ?? null) === canonicalJson(b ?? null);

/** Whether an answer holds one of each place, so that those of two people can stand beside each other. */
function isByPlace(key: string, raw: unknown): raw is Record<string, unknown> {
  return findItem(key)?.positions !== undefined && isJsonObject(raw) && !hasBasis(raw) && !isNoAnswer(raw);
}

/** The answers of the owner with those of the shop over them; at places that the shop says nothing of, the owner's stay. */
export function withAnswers(owners: Raw, shops: Raw): Record<string, unknown> {
  const merged: Record<string, unknown> = { ...owners };
  for (const [key, raw] of Object.entries(shops)) {
    const before = owners[key];
    merged[key] = isByPlace(key, raw) && isByPlace(key, before) ? { ...before, ...raw } : raw;
  }
  return merged;
}

/** What a shop says otherwise than the owner, or first: the rest of what it sent is the owner's own. */
export function ownAnswers(sent: Raw, owners: Raw): Record<string, unknown> {
  const own: Record<string, unknown> = {};
  for (const [key, raw] of Object.entries(sent)) {
    const theirs = owners[key];
    if (raw === null || raw === undefined || isSame(raw, theirs)) continue;
    if (!isByPlace(key, raw) || !isByPlace(key, theirs)) {
      own[key] = raw;
      continue;
    }
    const places = Object.entries(raw).filter(([position, at]) => at !== null && !isSame(at, theirs[position]));
    if (places.length > 0) own[key] = Object.fromEntries(places);
  }
  return own;
}
