import type { Counts, Finding, Judgement, Reading, Result, Verdict } from '../model/finding.ts';
import { resolveRules, type RuleLayer } from '../overlay/resolve.ts';
import type { RuleFault } from '../model/rule-fault.ts';
import type { RuleSet } from '../model/rule-set.ts';

/** As much of a stored finding as a comparison needs; the rest may be looked up for the few that changed. */
export type StoredFinding = Pick<Finding, 'ruleId' | 'title' | 'position' | 'result' | 'counts'> &
  Partial<Pick<Finding, 'measured' | 'limit' | 'margin' | 'message'>>;

/** A judgement as it is stored. */
export interface StoredJudgement {
  verdict: Verdict;
  findings: readonly StoredFinding[];
}

/** What one side of a comparison says of a rule at one position. Units as in `Finding`. */
export interface FindingSide {
  result: Result;
  counts: Counts;
  measured?: Reading;
  limit?: string;
  margin?: { value: number; unit: string };
  /** absent where it was not read */
  message?: string;
}

/** A rule, at one position where it runs per position, that comes out otherwise. A side is absent where it gives no finding. */
export interface RuleChange {
  ruleId: string;
  title: string;
  position?: string;
  before?: FindingSide;
  after?: FindingSide;
}

/** One declaration under two rule sets. */
export interface Comparison {
  before: Verdict;
  after: Verdict;
  flipped: boolean;
  /** the changes that alone explain the flip; empty when the verdict stays */
  because: readonly RuleChange[];
  /** whatever has another result, or counts otherwise, in the order of the rules after; what is gone comes last */
  changes: readonly RuleChange[];
}

const RANK: Readonly<Record<Counts, number>> = { no: 0, advise: 0, inspect: 1, bar: 2 };
const VERDICT_RANK: Readonly<Record<Verdict, number>> = { clean: 0, 'to-inspect': 1, barred: 2 };

const keyOf = (finding: StoredFinding): string => `${finding.ruleId}@${finding.position ?? ''}`;

/** One side of a change, from a finding. */
export function sideOf(finding: StoredFinding): FindingSide {
  const { result, counts, measured, limit, margin, message } = finding;
  return {
    result,
    counts,
    ...(measured === undefined ? {} : { measured }),
    ...(limit === undefined ? {} : { limit }),
    ...(margin === undefined ? {} : { margin }),
    ...(message === undefined ? {} : { message }),
  };
}

function note(changes: RuleChange[], before: StoredFinding | undefined, after: StoredFinding | undefined): void {
  const named = after ?? before;
  if (named === undefined || (before?.result === after?.result && before?.counts === after?.counts)) return;
  changes.push({
    ruleId: named.ruleId,
    title: named.title,
    ...(named.position === undefined ? {} : { position: named.position }),
    ...(before === undefined ? {} : { before: sideOf(before) }),
    ...(after === undefined ? {} : { after: sideOf(after) }),
  });
}

const isSamePlace = (a: StoredFinding, b: StoredFinding): boolean =>
  a.ruleId === b.ruleId && (a.position ?? '') === (b.position ?? '');

function listChanges(before: readonly StoredFinding[], after: readonly Finding[]): RuleChange[] {
  const changes: RuleChange[] = [];
  // Both sides are mostly the same rules in the same order, and names are only needed where they are not.
  let same = 0;
  for (const finding of after) {
    const was = before[same];
    if (was === undefined || !isSamePlace(was, finding)) break;
    note(changes, was, finding);
    same += 1;
  }
  const left = new Map(before.slice(same).map((finding) => [keyOf(finding), finding]));
  for (const finding of after.slice(same)) {
    const key = keyOf(finding);
    note(changes, left.get(key), finding);
    left.delete(key);
  }
  for (const finding of left.values()) note(changes, finding, undefined);
  return changes;
}

const rankOf = (side: FindingSide | undefined): number => (side === undefined ? 0 : RANK[side.counts]);

/** A rule explains a worse verdict when it counts for more than the old one, a better when it counted for more than the new. */
function explains(change: RuleChange, before: Verdict, after: Verdict): boolean {
  const [was, is] = [VERDICT_RANK[before], VERDICT_RANK[after]];
  return is > was ? rankOf(change.after) > was : rankOf(change.before) > is;
}

/**
 * Compares two judgements of one declaration, rule by rule and position by position. Rules are the same by their id.
 *
 * @returns whether the verdict flips and by which rules; a flip always has at least one
 */
export function compareJudgements(before: StoredJudgement, after: Judgement): Comparison {
  const changes = listChanges(before.findings, after.findings);
  const flipped = before.verdict !== after.verdict;
  const because = flipped ? changes.filter((change) => explains(change, before.verdict, after.verdict)) : [];
  return { before: before.verdict, after: after.verdict, flipped, because, changes };
}

/** A change of a venue or a run group that the rules tried cannot take; `pointer` leads into its overlay. */
export interface NotApplied {
  from: RuleLayer['from'];
  pointer: string;
  code: RuleFault['code'];
  detail: string;
}

/** The rules tried as they would judge one run group. */
interface FittedRules {
  ruleSet: RuleSet;
  notApplied: readonly NotApplied[];
}

/** A layer without what was taken out; `ruleAt` are the places that its rules had. */
interface Fitting extends RuleLayer {
  ruleAt: readonly number[];
}

/** The smallest part of an overlay that can be left out: one parameter, one effect or one rule. */
interface Part {
  section: string;
  name: string;
}

function partOf(pointer: string): Part {
  const [, section = '', name = ''] = pointer.split('/');
  return { section, name };
}

const without = <T>(record: Readonly<Record<string, T>>, names: ReadonlySet<string>): Record<string, T> =>
  Object.fromEntries(Object.entries(record).filter(([name]) => !names.has(name)));

/** Leaves parts out. A fault that names no part is of the whole layer. */
function leaveOut({ from, overlay, ruleAt }: Fitting, parts: readonly Part[]): Fitting {
  const of = (section: string) => new Set(parts.filter((part) => part.section === section).map(({ name }) => name));
  const [parameters, effects, rules] = [of('parameters'), of('effects'), of('rules')];
  const found = parameters.size + effects.size + rules.size;
  if (parts.length > 0 && found === 0) return { from, overlay: { parameters: {}, effects: {}, rules: [] }, ruleAt: [] };
  const kept = overlay.rules.map((_, at) => at).filter((at) => !rules.has(String(at)));
  return {
    from,
    overlay: {
      parameters: without(overlay.parameters, parameters),
      effects: without(overlay.effects, effects),
      rules: overlay.rules.filter((_, at) => kept.includes(at)),
    },
    ruleAt: kept.map((at) => ruleAt[at] ?? at),
  };
}

/** A pointer into the layer as it was given, whatever was left out of it meanwhile. */
function originalPointer({ ruleAt }: Fitting, pointer: string): string {
  const { section, name } = partOf(pointer);
  if (section !== 'rules' || name === '') return pointer;
  return pointer.replace(/^\/rules\/\d+/u, `/rules/${ruleAt[Number(name)] ?? name}`);
}

/**
 * Puts what a venue and a run group change over the rules tried, as far as these can take it. What they cannot take (a
 * parameter they do not have, a unit that does not convert, a floor that would be loosened) is left out and reported.
 *
 * @param layers in order; later ones win
 */
export function fitLayers(base: RuleSet, layers: readonly RuleLayer[]): FittedRules {
  const notApplied: NotApplied[] = [];
  let fitting: Fitting[] = layers.map((layer) => ({ ...layer, ruleAt: layer.overlay.rules.map((_, at) => at) }));
  // Each round leaves at least one part out, or everything, so the rounds end.
  for (;;) {
    const resolved = resolveRules(base, fitting);
    if (resolved.ok) return { ruleSet: resolved.ruleSet, notApplied };
    const { faults } = resolved;
    const size = sizeOf(fitting);
    if (size === 0) return { ruleSet: { ...base, examples: [] }, notApplied };
    fitting = fitting.map((layer) => {
      const own = faults.filter((fault) => fault.from === layer.from);
      for (const { from, pointer, code, detail } of own) {
        notApplied.push({ from, pointer: originalPointer(layer, pointer), code, detail });
      }
      return leaveOut(
        layer,
        own.map((fault) => partOf(fault.pointer)),
      );
    });
    if (sizeOf(fitting) === size) fitting = [];
  }
}

const sizeOf = (layers: readonly Fitting[]): number =>
  layers.reduce(
    (sum, { overlay }) =>
      sum + Object.keys(overlay.parameters).length + Object.keys(overlay.effects).length + overlay.rules.length,
    0,
  );
