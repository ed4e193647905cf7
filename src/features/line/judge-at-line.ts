import { startOfDay, startOfNextDay } from '../../domain/calendar.ts';
import { type Concession, concessionsInForce } from '../../domain/clearance/concession.ts';
import { type Answers, cellKey, parseAnswers } from '../../domain/declaration/declaration.ts';
import { alwaysLook, type CheckedPoint, withSeenPoints } from '../../domain/line/line-judgement.ts';
import { doneElsewhere, type DonePoint, type OtherAcceptance } from '../../domain/line/done-elsewhere.ts';
import { refusedPoints } from '../../domain/clearance/inspect-again.ts';
import type { EntryDoubt } from '../../domain/foresight/entry-doubts.ts';
import { withChosen } from '../../domain/foresight/line-looks.ts';
import { DEFAULT_LANGUAGE } from '../../domain/language.ts';
import type { PointLimit } from '../../domain/rules/explain/explain-limits.ts';
import { pointsInOrder } from '../../domain/line/points-to-check.ts';
import { comparedPoint, confirmedSince, readFacts, type ReadFacts, withReadFacts } from '../../domain/car/car-facts.ts';
import type { WetTyres } from '../../domain/clearance/wet-tyres.ts';
import { type LastSafe, lastSafe } from '../../domain/prepare/wear-outlook.ts';
import { type Finding, type Judgement, tallyOf } from '../../domain/rules/model/finding.ts';
import type { AlwaysLook, Rule, RuleSet } from '../../domain/rules/model/rule-set.ts';
import type { Says } from '../../domain/rules/says/says.ts';
import type { Vehicle } from '../../domain/vehicle.ts';
import { viewFindings } from '../../http/views/finding-view.ts';
import { notAcceptable, notFound, ProblemError } from '../../http/frame/problem.ts';
import type { Tx } from '../../platform/database/db.ts';
import { listConcessions } from '../../records/what-stands.ts';
import { listOtherAcceptances } from '../../records/judging/at-line.ts';
import { type PackedLists, packLists, type SignedLists } from '../../records/judging/signed-lists.ts';
import { findInspection, type StoredInspection } from '../../records/judging/inspections.ts';
import {
  doubtsAbout,
  judgeEntry,
  judgeWetTyres,
  pointLimitsOf,
  sayLimitsOf,
} from '../../records/judging/judge-entry.ts';
import { toldOtherwise } from '../../records/judging/replay.ts';
import { findJudgingContext, type JudgingContext } from '../../records/judging/judging-context.ts';
import { getRules, type JudgingRules, overridesOf } from '../../records/judging/rules.ts';
import { canRead, type ReadChecks, readChecks } from './checks.ts';
import type { SignOff, SignOffView } from './schemas.ts';
import type { SignOffRow } from './sign-off-store.ts';
import type { ClaimState } from './store.ts';

/** Ways to judge a claimed inspection again with what the line found. */
export interface LineJudge {
  answers: Answers;
  concessionsAt(now: Date): Concession[];
  /** points about the car that were done for its other entries */
  done: readonly DonePoint[];
  /** what the group's rules have looked at on every car, and the car itself where the staff has not seen all of it */
  always: readonly AlwaysLook[];
  /** answers that do not go together: the line looks there, and nothing is decided by it */
  doubts(): EntryDoubt[];
  /** which worn part ends first before the event does, by the findings of a judgement */
  lastSafe(findings: readonly Finding[], now: Date): LastSafe | undefined;
  /** as declared or measured for another entry, with the concessions of today: what the line is asked to look at */
  asDeclared(now: Date): Judgement;
  /** what the numbers of this car are held against, by place */
  limits(judgement: Judgement, at: { now: Date; language: string }): Map<string, PointLimit[]>;
  /** the limits behind findings as sentences, by rule and position */
  says(judgement: Judgement, now: Date, language: string): Map<string, Says>;
  judge(checks: ReadChecks, now: Date): Judgement;
  /** what the checks settle about the car */
  factsRead(checks: ReadChecks): ReadFacts;
  /** the car as `judge` takes it */
  carAfter(checks: ReadChecks): SignedLists['car'];
  /** the car as the staff knows it by now */
  vehicle: Vehicle;
  /** whether the tyres are fit for a wet track, by the same; undefined: not known */
  wetTyres(checks: ReadChecks): WetTyres | undefined;
}

/** A claimed inspection with what judges it. */
export interface AtLine extends LineJudge {
  inspection: StoredInspection;
  context: JudgingContext;
  /** the rules that judge it, in their order */
  rules: readonly Rule[];
  ruleSet: RuleSet;
}

/**
 * Loads what judged the claimed inspection: the same version of the rules, the same parameters, car and event days as
 * at its submission. Only concessions and photos are those of today: evidence may come and go until the decision.
 *
 * @throws ProblemError `not-found`
 */
export async function judgeAtLine(tx: Tx, claim: ClaimState, now: Date): Promise<AtLine> {
  const inspection = await findInspection(tx, claim.inspectionId);
  const context = await findJudgingContext(tx, claim.entryId);
  if (inspection === undefined || context === undefined) throw notFound('claim');
  const { ruleSetId, ruleSetVersion } = inspection;
  const rules = await getRules(tx, inspection);
  const concessions = await listConcessions(tx, { entryId: claim.entryId, ruleSetId, ruleSetVersion });
  const { photos } = context;
  const others = await listOtherAcceptances(tx, claim.entryId, now);
  const judge = lineJudge(inspection, { rules, concessions, photos, others, car: context });
  const { ruleSet } = rules.compiled;
  return { ...judge, inspection, context, rules: ruleSet.rules, ruleSet };
}

/** Judges an inspection with what judged it when it was submitted, and with the concessions, photos and other entries of today. */
export function lineJudge(
  inspection: Pick<StoredInspection, 'answers' | 'vehicle' | 'parameters' | 'resolvedHash' | 'context'>,
  today: {
    rules: JudgingRules;
    concessions: readonly Concession[];
    photos: JudgingContext['photos'];
    others: readonly OtherAcceptance[];
    /** the car as its record is now */
    car: Pick<JudgingContext, 'vehicle' | 'unconfirmed' | 'sessions' | 'earlier'>;
  },
): LineJudge {
  const { rules, concessions, photos } = today;
  const { parameters, resolvedHash, context } = inspection;
  const judged = { vehicle: inspection.vehicle, unconfirmed: context.unconfirmed ?? [] };
  const known = confirmedSince(judged, today.car);
  const { vehicle, unconfirmed } = known;
  const parsed = parseAnswers(inspection.answers);
  // Answers that a later catalogue cannot read count as not given, which bars; they never count as fine.
  const answers = parsed.ok ? parsed.answers : new Map();
  const concessionsAt = (now: Date) => concessionsInForce(concessions, rules.compiled.ruleSet.rules, now);
  const done = doneElsewhere(today.others, vehicle).filter((point) => canRead(point, vehicle));
  const judgedWith = { parameters, resolvedHash, concessions, ...context, photos, ...known };
  const measuredWith = ({ measured: own, checked }: ReadChecks): Answers => {
    const { measured: others } = readChecks(doneOnly(done, checked), vehicle);
    return new Map([...others, ...own]);
  };
  const factsRead = (checks: ReadChecks): ReadFacts =>
    readFacts(vehicle, unconfirmed, { ...checks, notOk: checks.seen.filter(({ result }) => result === 'not-ok') });
  return {
    answers,
    vehicle,
    factsRead,
    carAfter: (checks) => withReadFacts(known, factsRead(checks)),
    concessionsAt,
    done,
    always: [
      ...alwaysLook({ ruleSet: rules.compiled.ruleSet, parameters: overridesOf(inspection) }, vehicle),
      ...comparedPoint(vehicle, unconfirmed),
    ],
    doubts: () => doubtsAbout({ ...judgedWith, sessions: today.car.sessions }, answers),
    lastSafe: (findings, now) => {
      const { earlier, sessions } = today.car;
      return lastSafe({ event: context.event, findings, earlier, sessions, now });
    },
    asDeclared: (now) => {
      const { measured } = readChecks(done, vehicle);
      return judgeEntry(rules, judgedWith, { answers, measured, stage: 'declaration', now });
    },
    limits: ({ findings }, { now, language }) =>
      pointLimitsOf(rules, judgedWith, { answers, stage: 'declaration', now, findings, language }),
    says: ({ findings }, now, language) =>
      sayLimitsOf(rules, judgedWith, { answers, stage: 'declaration', now, findings, language }),
    judge(checks, now) {
      const measured = measuredWith(checks);
      const found = { ...judgedWith, ...withReadFacts(known, factsRead(checks)) };
      const judgement = judgeEntry(rules, found, { answers, measured, stage: 'line', now });
      return withSeenPoints(judgement, checks.seen, concessionsAt(now));
    },
    wetTyres: (checks) => judgeWetTyres(rules, judgedWith, { answers, measured: measuredWith(checks) }),
  };
}

/** What a decision rests on, to be kept whole, and the points that the line was shown, by item and position. */
export function keepLists(
  { asDeclared, carAfter, answers, vehicle, always, doubts }: LineJudge,
  { row, rules, checks, judgement }: Decided,
): { packed: PackedLists; shown: string[] } {
  const { findings: shown } = asDeclared(row.now);
  // so that their texts are kept: they are held against what was told, and written
  for (const finding of shown) Object.freeze(finding);
  const told = toldOtherwise(rules, row.judged, shown);
  const refused = refusedPoints(row.refusals, vehicle);
  const points = pointsInOrder(shown, answers, vehicle, { refused, always, doubts: doubts() });
  // In the order in which the claim had them, by what it chose then.
  const asShown = withChosen(points, row.looks ?? [], DEFAULT_LANGUAGE);
  return {
    packed: packLists({ car: carAfter(checks), shown, line: judgement.findings, told }),
    shown: asShown.map(({ item, position }) => cellKey(item, position)),
  };
}

interface Decided {
  row: Pick<SignOffRow, 'judged' | 'refusals' | 'now' | 'looks'>;
  rules: JudgingRules;
  checks: ReadChecks;
  /** with what was checked */
  judgement: Judgement;
}

/** A judgement with what was checked, as a decision answers it: what is not met, and what rests on a measurement. */
export function viewJudgement({ verdict, findings }: Judgement): Pick<SignOffView, 'verdict' | 'tally' | 'findings'> {
  const told = findings.filter(({ result, source }) => result !== 'met' || source === 'measured');
  return { verdict, tally: tallyOf(findings), findings: viewFindings(told) };
}

/** Of the points done elsewhere those that this line did not look at itself. */
export function doneOnly(done: readonly DonePoint[], checked: readonly CheckedPoint[]): DonePoint[] {
  return done.filter(
    ({ item, position }) => !checked.some((check) => check.item === item && check.position === position),
  );
}

/**
 * From when until when an acceptance holds: the event days at the venue, or until an earlier end that the inspector
 * sets. Nothing on a refusal.
 *
 * @throws ProblemError `not-acceptable` when the wished end is past or later than the event, or a condition is due already or only
 *   after the event
 */
export function validity(
  context: JudgingContext,
  signOff: SignOff,
  now: Date,
): { validFrom: Date | undefined; validUntil: Date | undefined } {
  if (signOff.decision === 'refuse') return { validFrom: undefined, validUntil: undefined };
  const validFrom = startOfDay(context.event.startsOn, context.venue.timeZone);
  const eventEnd = startOfNextDay(context.event.endsOn, context.venue.timeZone);
  assertDueInEvent(signOff, now, eventEnd);
  if (signOff.validUntil === undefined) return { validFrom, validUntil: eventEnd };
  const validUntil = new Date(signOff.validUntil);
  if (validUntil > now && validUntil <= eventEnd) return { validFrom, validUntil };
  const detail = `Must lie after now and not after the end of the event, ${eventEnd.toISOString()}.`;
  throw new ProblemError('not-acceptable', `validUntil: ${detail}`, {
    errors: [{ pointer: '/validUntil', code: 'out-of-range', detail, in: 'body' }],
  });
}

function assertDueInEvent(signOff: SignOff, now: Date, eventEnd: Date): void {
  const errors = (signOff.conditions ?? []).flatMap(({ dueAt }, index) => {
    if (dueAt == null) return [];
    const at = { pointer: `/conditions/${index}/dueAt`, in: 'body' as const };
    if (new Date(dueAt) <= now) {
      return [{ ...at, code: 'in-the-past', detail: 'Must lie ahead: the gate would hold the car at once.' }];
    }
    if (new Date(dueAt) < eventEnd) return [];
    const detail = `Must lie before the end of the event, ${eventEnd.toISOString()}: nobody would look at it any more.`;
    return [{ ...at, code: 'out-of-range', detail }];
  });
  if (errors.length === 0) return;
  throw notAcceptable(errors);
}

/** What `validity` gives, as it is answered. */
export function isoDates(dates: ReturnType<typeof validity>): { validFrom?: string; validUntil?: string } {
  const { validFrom, validUntil } = dates;
  if (validFrom === undefined || validUntil === undefined) return {};
  return { validFrom: validFrom.toISOString(), validUntil: validUntil.toISOString() };
}
