import { type Answers, parseAnswers, type RawAnswers } from '../../domain/declaration/declaration.ts';
import { measuredAnswers, type SeenPoint, withSeenPoints } from '../../domain/line/line-judgement.ts';
import { evaluate } from '../../domain/rules/judge/evaluate.ts';
import type { Finding, Judgement } from '../../domain/rules/model/finding.ts';
import type { ActiveConcession, JudgeInput } from '../../domain/rules/judge/run.ts';
import { canonicalJson } from '../../platform/canonical-json.ts';
import type { Tx } from '../../platform/database/db.ts';
import type { PhotoCounts } from '../evidence.ts';
import {
  digestOfFindings,
  type KeptCodes,
  type StoredInspection,
  tellWhole,
  type ToldFindings,
} from './inspections.ts';
import { getRules, type JudgingRules, overridesOf } from './rules.ts';
import { findSignedList, type StoredCheck, type StoredSignOff } from './at-line.ts';

/** A judgement as it is kept, with all that it was made from. */
export interface Kept {
  input: JudgeInput;
  sent: { declared: RawAnswers; measured?: RawAnswers };
  /** all that was told, as far as it is known */
  findings: readonly Finding[];
  seen: readonly SeenPoint[];
}

/** The same judged now: what the rules say, and what came out with what was only seen. */
interface Replayed {
  judged: readonly Finding[];
  findings: readonly Finding[];
}

type Judged = Pick<StoredInspection, 'answers' | 'vehicle' | 'context' | 'parameters' | 'resolvedHash' | 'kept'> & {
  findings: readonly Finding[];
};

/** What an inspector measured, as answers are sent; a later measurement of the same point wins. */
function measuredIn(checks: readonly StoredCheck[]): RawAnswers {
  const measured: Record<string, unknown> = {};
  for (const { item, position, value } of checks) {
    if (value === undefined) continue;
    const before = measured[item];
    const others = typeof before === 'object' && before !== null ? before : {};
    measured[item] = position === undefined ? value : { ...others, [position]: value };
  }
  return measured;
}

/** Answers that a later catalogue cannot read count as not given, as they do at the line. */
function readable(raw: RawAnswers): Answers {
  const parsed = parseAnswers(raw);
  return parsed.ok ? parsed.answers : new Map();
}

/** The concessions that counted in a judgement: its findings name each that made a difference. */
function concessionsIn(findings: readonly Finding[]): ActiveConcession[] {
  const byRule = new Map<string, ActiveConcession>();
  for (const { ruleId, conceded } of findings) if (conceded !== undefined) byRule.set(ruleId, { ruleId, ...conceded });
  return [...byRule.values()];
}

function inputOf(inspection: Judged, findings: readonly Finding[]): Omit<JudgeInput, 'stage'> {
  const { timeZone: _, ...venue } = inspection.context.venue;
  const { unconfirmed } = inspection.context;
  return {
    answers: readable(inspection.answers),
    vehicle: inspection.vehicle,
    event: inspection.context.event,
    venue,
    earlier: inspection.context.earlier,
    photos: inspection.context.photos ?? {},
    parameters: overridesOf(inspection),
    concessions: concessionsIn(findings),
    ...(unconfirmed === undefined ? {} : { unconfirmed }),
  };
}

const inputOfDeclaration = (inspection: Judged): JudgeInput => ({
  ...inputOf(inspection, inspection.findings),
  stage: 'declaration',
});

/**
 * What was told at the submission, where that is not what is at hand and still comes out: undefined else, and of what was
 * stored whole.
 */
export function toldOtherwise(
  rules: JudgingRules,
  inspection: Omit<Judged, 'findings'> & { findings: readonly Finding[] | null },
  atHand: readonly Finding[],
): readonly Finding[] | undefined {
  const { kept, findings } = inspection;
  if (kept === null || findings === null || isDigestOf(kept, atHand)) return undefined;
  const again = judgeAgain(rules, { ...inspection, findings }).findings;
  return isDigestOf(kept, again) ? again : undefined;
}

const isDigestOf = ({ findingsSha256 }: KeptCodes, findings: readonly Finding[]): boolean =>
  digestOfFindings(findings) === findingsSha256;

/** Judges a declaration once more by what is kept with it: rules, car, answers, and what was known of event and venue. */
export function judgeAgain({ compiled }: JudgingRules, inspection: Judged): Judgement {
  return evaluate(compiled, inputOfDeclaration(inspection));
}

/** All that was told of a declaration: as it is kept where the line decided on it, else with the help of judging it again. */
export async function findTold(
  db: Tx,
  rules: JudgingRules,
  inspection: StoredInspection,
): Promise<ToldFindings & { again: readonly Finding[] }> {
  const again = judgeAgain(rules, inspection).findings;
  const whole = tellWhole(rules.compiled, inputOfDeclaration(inspection), inspection, again);
  const isKnown = inspection.kept === null || whole.judgedAgain === 'same';
  const signed = isKnown ? undefined : await findSignedList(db, inspection);
  return { again, judgedAgain: whole.judgedAgain, findings: signed ?? whole.findings };
}

/** The same, of each with the rules that judged it. */
export async function withWhole(db: Tx, inspection: StoredInspection): Promise<StoredInspection & ToldFindings> {
  const { findings, judgedAgain } = await findTold(db, await getRules(db, inspection), inspection);
  return { ...inspection, findings: [...findings], judgedAgain };
}

/** The judgement of a declaration, with what was told of it. */
export function keptDeclaration(inspection: StoredInspection, findings: readonly Finding[]): Kept {
  const input = inputOfDeclaration(inspection);
  return { input, sent: { declared: inspection.answers }, findings, seen: [] };
}

/** The judgement at the line, as it is kept with a sign-off of the inspection. */
export function keptAtLine(
  inspection: StoredInspection,
  signOff: Pick<StoredSignOff, 'checks' | 'findings' | 'lists'> & { photos: PhotoCounts },
): Kept {
  const { checks, findings, lists, photos } = signOff;
  const measured = measuredIn(checks);
  const pinned = inputOf(inspection, findings);
  return {
    input: { ...pinned, ...lists?.car, measured: measuredAnswers(checks), photos, stage: 'line' },
    sent: { declared: inspection.answers, measured },
    findings: lists?.line ?? findings,
    seen: checks.flatMap(({ item, position, result }) => (result === undefined ? [] : [{ item, position, result }])),
  };
}

/** Judges what was kept once more, under the rules that judged it. */
export function replay(rules: JudgingRules, kept: Kept): Replayed {
  const judgement = evaluate(rules.compiled, kept.input);
  return {
    judged: judgement.findings,
    findings: withSeenPoints(judgement, kept.seen, kept.input.concessions).findings,
  };
}

/** Whether a rule's findings came out the same again, byte for byte. */
export function isSame(ruleId: string, kept: Kept, replayed: Replayed): boolean {
  const textOf = (findings: readonly Finding[]) =>
    canonicalJson(findings.filter((finding) => finding.ruleId === ruleId));
  return textOf(kept.findings) === textOf(replayed.findings);
}
