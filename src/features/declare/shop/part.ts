import { DRIVER_ITEMS, findItem } from '../../../domain/catalogue/catalogue.ts';
import type { Area } from '../../../domain/catalogue/item.ts';
import { type Finding, tallyOf, verdictOf } from '../../../domain/rules/model/finding.ts';
import type { JudgingRules } from '../../../records/judging/rules.ts';
import { hasBasis } from '../../../domain/declaration/basis.ts';
import { isNoAnswer } from '../../../domain/declaration/no-answer.ts';
import { isJsonObject } from '../../../domain/declaration/read-answer.ts';
import { canonicalJson } from '../../../platform/canonical-json.ts';
import type { FormView } from '../form-schema.ts';
import type { JudgedDraft } from '../save-draft.ts';

/** Whether a shop with these areas (none: all) answers an item: not what only the driver, or only the line, can say. */
export function isOfPart(areas: readonly string[], key: string): boolean {
  const item = findItem(key);
  if (item === undefined || item.answeredBy === 'inspector' || DRIVER_ITEMS.has(key)) return false;
  return areas.length === 0 || areas.includes(item.area satisfies Area);
}

/** A rule that reads several answers is about the first of them. */
const isAbout = (items: readonly string[], areas: readonly string[]): boolean => isOfPart(areas, items[0] ?? '');

const keyOf = (cell: string): string => cell.split(/[@#]/)[0] ?? cell;

/** The rules that are about the part of a shop. */
export function rulesOfPart({ compiled }: JudgingRules, areas: readonly string[]): ReadonlySet<string> {
  return new Set(compiled.ruleSet.rules.filter(({ items }) => isAbout(items, areas)).map(({ id }) => id));
}

/** What the shop sees of an asked list. */
function askedOfPart(asked: FormView['asked'], areas: readonly string[]): FormView['asked'] {
  const isIts = (cell: string): boolean => isOfPart(areas, keyOf(cell));
  return {
    cells: asked.cells.filter(isIts),
    because: Object.fromEntries(Object.entries(asked.because).filter(([cell]) => isIts(cell))),
  };
}

/** The form of an entry without what the owner did not give the shop. */
export function formOfPart(form: FormView, rules: JudgingRules, areas: readonly string[]): FormView {
  const ids = rulesOfPart(rules, areas);
  const isIts = ({ ruleId }: { ruleId: string }): boolean => ids.has(ruleId);
  const findings = form.findings.filter(isIts);
  return {
    ...form,
    items: form.items.filter(({ key }) => isOfPart(areas, key)),
    asked: askedOfPart(form.asked, areas),
    doubts: form.doubts.filter(({ item }) => isOfPart(areas, item)),
    ...outcomeOf(findings),
    findings,
    says: form.says.filter(isIts),
    said: form.said
      .map((one) => ({ ...one, places: one.places.filter((place) => isOfPart(areas, keyOf(place))) }))
      .filter(({ places }) => places.length > 0),
    concessions: form.concessions.filter(isIts),
  };
}

/** What was judged, without what the owner did not give the shop; `all`: every finding, to count them. */
export function draftOfPart(
  judged: JudgedDraft,
  { rules, areas, all }: { rules: JudgingRules; areas: readonly string[]; all: readonly Finding[] },
): JudgedDraft {
  const ids = rulesOfPart(rules, areas);
  const isIts = ({ ruleId }: { ruleId: string }): boolean => ids.has(ruleId);
  return {
    ...judged,
    ...outcomeOf(all.filter(isIts)),
    findings: judged.findings.filter(isIts),
    gone: judged.gone.filter(isIts),
    asked: askedOfPart(judged.asked, areas),
    doubts: judged.doubts.filter(({ item }) => isOfPart(areas, item)),
    missing: judged.missing.filter(({ key }) => isOfPart(areas, key)),
    notApplicable: judged.notApplicable.filter((cell) => isOfPart(areas, keyOf(cell))),
  };
}

function outcomeOf(findings: readonly Pick<Finding, 'counts' | 'result'>[]) {
  // both look at nothing else
  const all = findings as readonly Finding[];
  return { verdict: verdictOf(all), tally: tallyOf(all) };
}

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
