import { createHash } from 'node:crypto';
import { CATALOGUE_VERSION } from '../../domain/catalogue/catalogue.ts';
import { findProgram, type Program } from '../../domain/rules/compile/program.ts';
import { type CompiledRuleSet, EVALUATOR_VERSION } from '../../domain/rules/judge/evaluate.ts';
import { type CodedFinding, codesOf, readCodes, tallyOfCodes, toldFindings } from '../../domain/rules/model/codes.ts';
import { type Finding, type Judgement, type Tally, tallyOf, thatCount } from '../../domain/rules/model/finding.ts';
import type { JudgeInput } from '../../domain/rules/model/judge-input.ts';

/** Names all of this server that judges besides what is kept with an inspection: how it judges, and what can be asked. */
export const EVALUATOR = `${EVALUATOR_VERSION}.${CATALOGUE_VERSION}`;

/** What is kept of a judgement besides its verdict and the findings that count. */
export interface KeptCodes {
  /** a letter for each place, after the name of the places: `3f0c…:mmB-m` */
  codes: string;
  evaluator: string;
  /** of the canonical list of all findings, lower-case hexadecimal */
  findingsSha256: string;
}

/** What of a judgement is written down. */
export interface KeptFindings {
  /** those that count */
  findings: Finding[];
  kept: KeptCodes;
}

/** Findings as a row has them: those that count with what is kept of the others, or all of them where `kept` is null. */
export interface StoredFindings {
  findings: readonly Finding[];
  kept: KeptCodes | null;
}

/** What names the rules for one kind of car: by it their places are the same. */
type PlacedBy = Pick<JudgeInput, 'parameters' | 'event' | 'vehicle'>;

export function keepFindings(compiled: CompiledRuleSet, by: PlacedBy, { findings }: Judgement): KeptFindings {
  const program = findProgram(compiled, by);
  const codes = `${nameOfPlaces(program)}:${codesOf(program.heads, findings)}`;
  const findingsSha256 = sha256(canonicalFindings(findings));
  return { findings: thatCount(findings), kept: { codes, evaluator: EVALUATOR, findingsSha256 } };
}

export const sha256 = (text: string): string => createHash('sha256').update(text).digest('hex');

// Judgements share the findings of what is simply met, and those are most of them.
const textOf = new WeakMap<Finding, string>();

/**
 * Findings as JSON in the canonical form of RFC 8785: as `canonicalJson`, in a fifth of its time. Right for findings, none of
 * whose keys is a whole number: engines put such keys first, whatever the order in which they were set.
 */
export function canonicalFindings(findings: readonly Finding[]): string {
  let text = '';
  for (const finding of findings) {
    let one = textOf.get(finding);
    if (one === undefined) {
      one = JSON.stringify(inOrder(finding));
      if (Object.isFrozen(finding)) textOf.set(finding, one);
    }
    text += text === '' ? one : `,${one}`;
  }
  return `[${text}]`;
}

/** A copy whose keys stand in the order of their UTF-16 code units, as RFC 8785 has them. */
function inOrder(value: unknown): unknown {
  if (typeof value !== 'object' || value === null) return value;
  if (Array.isArray(value)) return value.map(inOrder);
  const ordered: Record<string, unknown> = {};
  const from = value as Record<string, unknown>;
  for (const key of Object.keys(from).sort()) ordered[key] = inOrder(from[key]);
  return ordered;
}

const names = new WeakMap<Program, string>();

/** Programs with the same name have the same places in the same order. */
function nameOfPlaces(program: Program): string {
  const known = names.get(program);
  if (known !== undefined) return known;
  const name = sha256(program.heads.map(({ ruleId, position }) => `${ruleId}@${position ?? ''}`).join('\n'));
  names.set(program, name.slice(0, 12));
  return name.slice(0, 12);
}

/** What letters say by place; undefined where the rules have other places for this car now, or in another order. */
export function codedFindings(compiled: CompiledRuleSet, by: PlacedBy, codes: string): CodedFinding[] | undefined {
  const program = findProgram(compiled, by);
  const [name, letters = ''] = codes.split(':');
  return name === nameOfPlaces(program) ? readCodes(program.heads, letters) : undefined;
}

/** How many findings there were, by what they did. */
export const tallyOfStored = ({ findings, kept }: StoredFindings): Tally =>
  kept === null ? tallyOf(findings) : tallyOfCodes(kept.codes.slice(kept.codes.indexOf(':') + 1));

/** All findings that were told, and whether the same comes out again. */
export interface ToldFindings {
  findings: readonly Finding[];
  /** `differs`: the server judges otherwise than when it was told; what was told then stands */
  judgedAgain: 'same' | 'differs';
}

/** All findings of a stored judgement, with the help of the same judged again. It changes nothing that was decided. */
export function tellWhole(
  compiled: CompiledRuleSet,
  by: PlacedBy,
  { findings, kept }: StoredFindings,
  again: readonly Finding[],
): ToldFindings {
  const digest = kept?.findingsSha256 ?? sha256(canonicalFindings(findings));
  const isSame = sha256(canonicalFindings(again)) === digest;
  if (kept === null) return { findings, judgedAgain: isSame ? 'same' : 'differs' };
  if (isSame) return { findings: again, judgedAgain: 'same' };
  const codes = codedFindings(compiled, by, kept.codes);
  const { heads } = findProgram(compiled, by);
  return { findings: toldFindings(heads, { codes, counting: findings }, again), judgedAgain: 'differs' };
}
