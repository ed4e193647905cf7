import { BUILT_IN_RULE_SET } from '../../seed/built-in.ts';
import { ENDS_ON, STARTS_ON } from '../../seed/examples/example-case.ts';
import { comparedPoint, readFacts, unconfirmedFacts, withReadFacts } from '../../src/domain/car/car-facts.ts';
import { daysBetween } from '../../src/domain/calendar.ts';
import { barringFindings } from '../../src/domain/clearance/clearance.ts';
import { type Answers, parseAnswers } from '../../src/domain/declaration/declaration.ts';
import type { EarlierEvent } from '../../src/domain/facts/fact.ts';
import {
  alwaysLook,
  notLookedAt,
  uncheckedFindings,
  withSeenPoints,
  valuesOn,
} from '../../src/domain/line/line-judgement.ts';
import { pointsToCheck } from '../../src/domain/line/points-to-check.ts';
import { compileRuleSet, evaluate } from '../../src/domain/rules/judge/evaluate.ts';
import { type Finding, verdictOf } from '../../src/domain/rules/model/finding.ts';
import { RuleSet } from '../../src/domain/rules/model/rule-set.ts';
import { readChecks } from '../../src/features/line/checks.ts';
import type { Case } from './case.ts';
import { type MadeCheck, measure, tick } from './inspectors.ts';
import { countPoints, notTaken, secondsAtLine, type Outcome, type Tried } from './outcome.ts';
import { venueFacts } from './venues.ts';

const nameFaults = (faults: readonly { pointer: string; detail: string }[]): string =>
  faults.map(({ pointer, detail }) => `${pointer} ${detail}`).join('; ');

export const RULES = RuleSet.parse(BUILT_IN_RULE_SET);
const compiled = compileRuleSet(RULES);

/** Driven on both days after the pads were declared: the cases know nothing of a second look. */
function earlierOf({ earlier }: Case): EarlierEvent[] {
  return earlier.map(({ startsOn, endsOn, answers }) => ({
    startsOn,
    endsOn,
    daysBefore: 0,
    daysAfter: daysBetween(startsOn, endsOn) + 1,
    // the positions of this item are the keys of the record
    padThicknessMm: answers['pad.thickness'] as EarlierEvent['padThicknessMm'],
  }));
}

type Car = ReturnType<typeof withReadFacts>;

function findingsOf(of: Case, answers: Answers, measured: Answers | undefined, car: Car): readonly Finding[] {
  return evaluate(compiled, {
    answers,
    ...(measured && { measured }),
    ...car,
    event: { startsOn: STARTS_ON, endsOn: ENDS_ON },
    venue: venueFacts(of.venue),
    earlier: earlierOf(of),
    parameters: of.parameters,
    concessions: [],
    stage: measured === undefined ? 'declaration' : 'line',
  }).findings;
}

const named = (findings: readonly Finding[]): string =>
  [
    ...new Set(findings.map(({ ruleId, position }) => (position === undefined ? ruleId : `${ruleId}@${position}`))),
  ].join(', ');

/** What a case came to, with all findings on the way. */
export interface Judged extends Outcome {
  findings: readonly Finding[];
}

/**
 * What becomes of a car, judged in this process as submission and sign-off judge it.
 *
 * @param without a rule that is left out
 */
export function judge(of: Case, without?: string): Judged {
  const parsed = parseAnswers(of.answers);
  if (!parsed.ok) return { ...notTaken(nameFaults(parsed.faults)), findings: [] };
  const { answers } = parsed;
  const keep = (findings: readonly Finding[]) => findings.filter(({ ruleId }) => ruleId !== without);
  const car = { vehicle: of.vehicle, unconfirmed: unconfirmedFacts(of.vehicle, of.origins) };
  const declared = keep(findingsOf(of, answers, undefined, car));
  const verdict = verdictOf(declared);
  if (verdict === 'barred') {
    const tried = { green: false, reason: named(barringFindings(declared)) };
    return { verdict, ticked: tried, measured: tried, points: 0, seconds: 0, findings: declared };
  }
  const seen: Finding[] = [...declared];
  const always = [
    ...alwaysLook({ ruleSet: RULES, parameters: of.parameters }, of.vehicle),
    ...comparedPoint(of.vehicle, car.unconfirmed),
  ];
  const points = pointsToCheck(declared, answers, of.vehicle, { always });
  const accept = (made: readonly MadeCheck[]): Tried => {
    const checks = readChecks(made, of.vehicle);
    const found = withReadFacts(car, readFacts(car.vehicle, car.unconfirmed, { ...checks, notOk: [] }));
    const findings = keep(findingsOf(of, answers, checks.measured, found));
    const judged = withSeenPoints({ verdict, findings }, checks.seen);
    seen.push(...judged.findings);
    const unchecked = uncheckedFindings(judged.findings, checks.checked, valuesOn(of.vehicle));
    const standing = [...barringFindings(judged.findings), ...unchecked];
    const unseen = notLookedAt(always, checks.checked, of.vehicle).map(({ id }) => id);
    const reason = [named(standing), ...unseen].filter((one) => one !== '').join(', ');
    return { green: standing.length === 0 && unseen.length === 0, reason };
  };
  return {
    verdict,
    ticked: accept(tick(points, of)),
    measured: accept(measure(points, of)),
    points: countPoints(points),
    seconds: secondsAtLine(points),
    findings: seen,
  };
}
