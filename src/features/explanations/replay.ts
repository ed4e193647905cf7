import { type Answers, parseAnswers, type RawAnswers } from '../../domain/declaration.ts';
import { type SeenPoint, withSeenPoints } from '../../domain/line-judgement.ts';
import { evaluate } from '../../domain/rules/evaluate.ts';
import type { Finding } from '../../domain/rules/finding.ts';
import type { ActiveConcession, JudgeInput } from '../../domain/rules/judge-input.ts';
import { canonicalJson } from '../../platform/canonical-json.ts';
import type { StoredInspection } from '../../records/inspections.ts';
import type { PhotoCounts } from '../../records/photos.ts';
import { type JudgingRules, overridesOf } from '../../records/rules.ts';
import type { StoredCheck } from './store.ts';

/** A judgement as it was stored, with all that it was made from. */
export interface Kept {
  input: JudgeInput;
  sent: { declared: RawAnswers; measured?: RawAnswers };
  findings: readonly Finding[];
  seen: readonly SeenPoint[];
}

/** The same judged now: what the rules say, and what came out with what was only seen. */
export interface Replayed {
  judged: readonly Finding[];
  findings: readonly Finding[];
}

/** What an inspector measured, as answers are sent; a later measurement of the same point wins. */
export function measuredIn(checks: readonly StoredCheck[]): RawAnswers {
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

function inputOf(inspection: StoredInspection, findings: readonly Finding[]): Omit<JudgeInput, 'stage'> {
  const { timeZone: _, ...venue } = inspection.context.venue;
  return {
    answers: readable(inspection.answers),
    vehicle: inspection.vehicle,
    event: inspection.context.event,
    venue,
    earlier: inspection.context.earlier,
    photos: inspection.context.photos ?? {},
    parameters: overridesOf(inspection),
    concessions: concessionsIn(findings),
  };
}

/** The judgement of the declaration, as it is kept with the inspection. */
export function keptDeclaration(inspection: StoredInspection): Kept {
  const { findings, answers } = inspection;
  return {
    input: { ...inputOf(inspection, findings), stage: 'declaration' },
    sent: { declared: answers },
    findings,
    seen: [],
  };
}

/** The judgement at the line, as it is kept with a sign-off of the inspection. */
export function keptAtLine(
  inspection: StoredInspection,
  signOff: { checks: readonly StoredCheck[]; findings: readonly Finding[]; photos: PhotoCounts },
): Kept {
  const { checks, findings, photos } = signOff;
  const measured = measuredIn(checks);
  return {
    input: { ...inputOf(inspection, findings), measured: readable(measured), photos, stage: 'line' },
    sent: { declared: inspection.answers, measured },
    findings,
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
    canonicalJson(JSON.parse(JSON.stringify(findings.filter((finding) => finding.ruleId === ruleId))));
  return textOf(kept.findings) === textOf(replayed.findings);
}
