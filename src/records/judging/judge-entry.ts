import { CATALOGUE_VERSION } from '../../domain/catalogue/catalogue.ts';
import { concessionsInForce } from '../../domain/clearance/concession.ts';
import { type WetTyres } from '../../domain/clearance/wet-tyres.ts';
import { decideWetTyres } from '../../domain/clearance/decide-wet-tyres.ts';
import { type Answers, parseAnswers } from '../../domain/declaration/declaration.ts';
import { type EntryDoubt, entryDoubts } from '../../domain/foresight/entry-doubts.ts';
import { measuredAnswers, type MeasuredCheck } from '../../domain/line/line-judgement.ts';
import { type PointLimit, pointLimits } from '../../domain/rules/explain/explain-limits.ts';
import { askAgain, type Asked, type AskedCell, listAsked } from '../../domain/rules/judge/asked.ts';
import { evaluate, usesChange } from '../../domain/rules/judge/evaluate.ts';
import { type Gone, judgeAgain } from '../../domain/rules/judge/noted.ts';
import type { Finding, Judgement } from '../../domain/rules/model/finding.ts';
import type { JudgeInput } from '../../domain/rules/judge/run.ts';
import { sessionsPerDay } from '../../domain/log/timetable.ts';
import { ownNumber } from '../../domain/rules/model/parameter-values.ts';
import type { EventDays } from '../../domain/rules/model/rule-set.ts';
import { placeOfRule, sayLimits, type Says } from '../../domain/rules/says/says.ts';
import type { Vehicle } from '../../domain/vehicle.ts';
import { nameFaults, ProblemError } from '../../http/frame/problem.ts';
import { canonicalHash } from '../../platform/canonical-json.ts';
import type { Tx } from '../../platform/database/db.ts';
import type { JudgingContext } from './judging-context.ts';
import { type JudgingRules, overridesOf, type RulesRef } from './rules.ts';
import { keepFindings } from './inspections.ts';

/** What a stored inspection needs to be judged again the same way: kept with it, whatever changes later. */
export type JudgedWith = Pick<JudgingContext, 'vehicle' | 'parameters' | 'resolvedHash' | 'venue' | 'concessions'> & {
  event: EventDays;
  /** absent in what was stored before earlier events were looked at */
  earlier?: JudgingContext['earlier'] | undefined;
  /** absent in what was stored before photos were counted */
  photos?: JudgingContext['photos'] | undefined;
  /** absent where every fact of the car was confirmed, and in what was stored before facts had an origin */
  unconfirmed?: JudgingContext['unconfirmed'] | undefined;
};

/** What is kept with an inspection besides vehicle, parameters and the names of its rules. */
function keptContext({ event, venue, earlier, photos, unconfirmed }: JudgingContext): KeptContext {
  const kept = { event: { startsOn: event.startsOn, endsOn: event.endsOn }, venue, earlier, photos };
  return unconfirmed.length === 0 ? kept : { ...kept, unconfirmed };
}

export type KeptContext = Pick<JudgedWith, 'event' | 'venue' | 'earlier' | 'photos' | 'unconfirmed'>;

/**
 * Judges answers in the context of an entry. Only concessions in force at `now` count.
 *
 * @param input `stage` `declaration`: what only the inspector can answer is not known yet; `line`: it must be
 */
export function judgeEntry(rules: JudgingRules, context: JudgedWith, input: Judged): Judgement {
  return evaluate(rules.compiled, inputOf(rules, context, input));
}

/** What of a judgement of an entry is written down with its revision: what was judged by, and what came of it. */
export function keepJudgement(rules: JudgingRules, context: JudgingContext, judgement: Judgement) {
  const { vehicle, event, parameters, ruleSetId, ruleSetVersion, resolvedHash } = context;
  const pinned = { vehicle, parameters, ruleSetId, ruleSetVersion, resolvedHash, context: keptContext(context) };
  const by = { vehicle, event, parameters: overridesOf(context) };
  return { ...pinned, verdict: judgement.verdict, ...keepFindings(rules.compiled, by, judgement) };
}

/** Answers of an entry that do not go together, by what is known of the car: a question, which no verdict rests on. */
export function doubtsAbout(
  {
    vehicle,
    event,
    earlier = [],
    sessions,
  }: Pick<JudgedWith, 'vehicle' | 'event' | 'earlier'> & Pick<JudgingContext, 'sessions'>,
  answers: Answers,
): EntryDoubt[] {
  const { startsOn, endsOn } = event;
  return entryDoubts({
    answers,
    vehicle,
    earlier,
    startsOn,
    sessionsPerDay: sessionsPerDay(sessions, startsOn, endsOn),
  });
}

interface Judged {
  answers: Answers;
  measured?: Answers;
  stage: 'declaration' | 'line';
  now: Date;
}

/** What a declaration of an entry needs by its rules, with the answers so far: see `listAsked`. */
export function askedOfEntry(
  rules: JudgingRules,
  context: JudgedWith,
  { answers, now }: { answers: Answers; now: Date },
): readonly AskedCell[] {
  return listAsked(rules.compiled, inputOf(rules, context, { answers, stage: 'declaration', now }));
}

/** A draft as it was judged, with what the next one can be judged from. */
export interface JudgedAnswers {
  judgement: Judgement;
  asked: Asked;
  /** what each rule came to */
  gone: Gone<Finding | undefined>;
}

/**
 * Judges a draft, and says what is asked, from the draft before: only what looked for a changed answer is worked out again.
 *
 * @param input `before` of the same entry with the same `judgedBy`
 */
export function judgeDraftAgain(
  rules: JudgingRules,
  context: JudgedWith,
  { answers, now, before }: { answers: Answers; now: Date; before: JudgedAnswers | undefined },
): JudgedAnswers {
  const input = inputOf(rules, context, { answers, stage: 'declaration', now });
  const asked = askAgain(rules.compiled, input, before?.asked);
  return { ...judgeAgain(rules.compiled, input, before?.gone), asked };
}

function inputOf(rules: JudgingRules, context: JudgedWith, input: Judged): JudgeInput {
  const { timeZone: _, ...venue } = context.venue;
  return {
    answers: input.answers,
    ...(input.measured === undefined ? {} : { measured: input.measured }),
    vehicle: context.vehicle,
    event: { startsOn: context.event.startsOn, endsOn: context.event.endsOn },
    venue,
    earlier: context.earlier,
    unconfirmed: context.unconfirmed,
    ...(context.photos === undefined ? {} : { photos: context.photos }),
    parameters: overridesOf(context),
    concessions: concessionsInForce(context.concessions, rules.compiled.ruleSet.rules, input.now),
    stage: input.stage,
  };
}

/** Whether a rule used what is otherwise in the record of the car now: then the declaration says nothing of this car. */
export function restsOnChange(
  rules: JudgingRules,
  judged: JudgedWith,
  input: { answers: Answers; vehicle: Vehicle; now: Date },
): boolean {
  const { answers, vehicle, now } = input;
  return usesChange(rules.compiled, inputOf(rules, judged, { answers, stage: 'line', now }), vehicle);
}

/** The limits behind findings as sentences in a language, by rule and position; see `sayLimits`. */
export function sayLimitsOf(
  rules: JudgingRules,
  context: JudgedWith,
  { language, findings, ...input }: Judged & { language: string; findings: readonly Finding[] },
): Map<string, Says> {
  const places = new Set(findings.map(({ ruleId, position }) => placeOfRule(ruleId, position)));
  return sayLimits(rules.compiled, inputOf(rules, context, input), language, places);
}

/** What the numbers of a car are held against at the line, by place; see `pointLimits`. */
export function pointLimitsOf(
  rules: JudgingRules,
  context: JudgedWith,
  { findings, language, ...input }: Judged & { findings: readonly Finding[]; language: string },
): Map<string, PointLimit[]> {
  return pointLimits(rules.compiled, inputOf(rules, context, input), { findings, language });
}

/**
 * Names all but the answers that a judgement of an entry depends on. As long as it is the same, findings differ only where the
 * answers do.
 */
export function judgedBy(rules: JudgingRules, context: JudgingContext, now: Date): string {
  const { ruleSetId, ruleSetVersion, resolvedHash, parameters, vehicle } = context;
  const concessions = concessionsInForce(context.concessions, rules.compiled.ruleSet.rules, now);
  const all = { ruleSetId, ruleSetVersion, resolvedHash, parameters, vehicle, ...keptContext(context), concessions };
  const text = JSON.stringify(all);
  const known = namesOfAll.get(text);
  if (known !== undefined) return known;
  const name = canonicalHash({ ...all, catalogue: CATALOGUE_VERSION }).slice(0, 16);
  if (namesOfAll.size >= MAX_NAMES) namesOfAll.clear();
  namesOfAll.set(text, name);
  return name;
}

/** Who types saves again and again: the canonical form of the same is not made each time. */
const namesOfAll = new Map<string, string>();
const MAX_NAMES = 300;

/**
 * Parses answers that a caller sent.
 *
 * @param pointer JSON Pointer of the answers in the body, put before each fault's own pointer
 * @throws ProblemError `answers-not-acceptable` naming every fault
 */
export function readAnswers(raw: unknown, pointer: string): Answers {
  const parsed = parseAnswers(raw);
  if (parsed.ok) return parsed.answers;
  const errors = parsed.faults.map((fault) => ({ ...fault, pointer: pointer + fault.pointer, in: 'body' as const }));
  const more = parsed.more > 0 ? { moreErrors: parsed.more } : {};
  throw new ProblemError('answers-not-acceptable', nameFaults(errors, parsed.more), { errors, ...more });
}

/**
 * What the newest sign-off of an inspection measured, as answers; empty when nothing was. A check that a later
 * catalogue cannot read is left out: its point then counts as declared, or as not known.
 */
export async function measuredAtLine(db: Tx, inspectionId: string): Promise<Answers> {
  const row = await db.signOff.findFirst({ where: { inspectionId }, orderBy: { signedAt: 'desc' } });
  // `checks` is written by the sign-off only, from checked values
  return measuredAnswers((row?.checks ?? []) as unknown as readonly MeasuredCheck[]);
}

/**
 * Whether the tyres are fit for a wet track under the rules that judge the car; what was measured wins over what was
 * declared. Decided when it is declared or looked at, so that the gate needs to know nothing but whether it is wet.
 *
 * @returns undefined: not known
 */
export function judgeWetTyres(
  rules: JudgingRules,
  ref: Pick<RulesRef, 'resolvedHash' | 'parameters'>,
  { answers, measured }: { answers: Answers; measured?: Answers },
): WetTyres | undefined {
  const limitMm = ownNumber(rules.compiled.ruleSet, overridesOf(ref), 'wetTreadMinimum');
  return limitMm === undefined ? undefined : decideWetTyres(answers, measured, limitMm);
}
