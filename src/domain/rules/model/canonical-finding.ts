import type { Finding } from './finding.ts';

// Judgements share the findings of what is simply met, and those are most of them.
const textOf = new WeakMap<Finding, string>();

/**
 * One finding as JSON in the canonical form of RFC 8785. Right for findings, none of whose keys is a whole number: engines put such keys
 * first, whatever the order in which they were set.
 */
export function canonicalFinding(finding: Finding): string {
  let text = textOf.get(finding);
  if (text === undefined) {
    text = isOfOurs(finding) ? writeFinding(finding) : canonical(finding);
    if (Object.isFrozen(finding)) textOf.set(finding, text);
  }
  return text;
}

const KEYS = {
  basis: true,
  clearedBy: true,
  conceded: true,
  counts: true,
  effect: true,
  facts: true,
  fix: true,
  items: true,
  limit: true,
  margin: true,
  measured: true,
  message: true,
  position: true,
  reliability: true,
  result: true,
  ruleId: true,
  source: true,
  title: true,
  watched: true,
} satisfies Record<keyof Finding, true>;

/** Whether it has no key that this version does not know: one that was stored by another may have more. */
function isOfOurs(finding: Finding): boolean {
  for (const key in finding) if (!Object.hasOwn(KEYS, key)) return false;
  return true;
}

/** The keys in the order of their UTF-16 code units. Each is named, which is five times as fast as going through them. */
function writeFinding(finding: Finding): string {
  const { basis, counts, effect, fix, items, message, result, ruleId, title } = finding;
  const upToFacts = `"basis":${shared(basis)}${maybe('clearedBy', finding.clearedBy)}${maybe('conceded', finding.conceded)},"counts":${quoted(counts)},"effect":${quoted(effect)}${maybe('facts', finding.facts)}`;
  const upToMessage = `,"fix":${quoted(fix)},"items":${shared(items)}${maybe('limit', finding.limit)}${maybe('margin', finding.margin)}${maybe('measured', finding.measured)},"message":${quoted(message)}`;
  const upToResult = `${maybe('position', finding.position)}${maybe('reliability', finding.reliability)},"result":${quoted(result)}`;
  const rest = `,"ruleId":${quoted(ruleId)}${maybe('source', finding.source)},"title":${quoted(title)}${maybe('watched', finding.watched)}`;
  return `{${upToFacts}${upToMessage}${upToResult}${rest}}`;
}

const maybe = (key: keyof Finding, value: unknown): string =>
  value === undefined ? '' : `,"${key}":${canonical(value)}`;

/** Any JSON value in the canonical form. */
function canonical(value: unknown): string {
  if (typeof value === 'string') return quoted(value);
  if (typeof value !== 'object' || value === null) return JSON.stringify(value);
  if (Array.isArray(value)) return `[${value.map(canonical).join()}]`;
  const from = value as Record<string, unknown>;
  const keys = Object.keys(from).filter((key) => from[key] !== undefined);
  return `{${keys
    .toSorted()
    .map((key) => `${quoted(key)}:${canonical(from[key])}`)
    .join()}}`;
}

/** What all findings of a rule share, by the rule's own objects, which nobody changes. */
const sharedTexts = new WeakMap<object, string>();

function shared(of: Finding['basis'] | Finding['items']): string {
  let text = sharedTexts.get(of);
  if (text === undefined) {
    text = canonical(of);
    sharedTexts.set(of, text);
  }
  return text;
}

/** Titles, messages and limits come again in each judgement. */
const quotedTexts = new Map<string, string>();
const MAX_QUOTED = 10_000;

function quoted(text: string): string {
  let known = quotedTexts.get(text);
  if (known === undefined) {
    known = JSON.stringify(text);
    if (quotedTexts.size >= MAX_QUOTED) quotedTexts.clear();
    quotedTexts.set(text, known);
  }
  return known;
}
