import { addDays } from '../../src/domain/calendar.ts';
import type { RawAnswers } from '../../src/domain/declaration/declaration.ts';
import type { Effect, Result, Verdict } from '../../src/domain/rules/model/finding.ts';
import type { Example, Rule } from '../../src/domain/rules/model/rule-set.ts';
import type { Vehicle } from '../../src/domain/vehicle.ts';

/** The days of every example: the last day decides ages and validity. */
export const STARTS_ON = '2026-06-13';
export const ENDS_ON = addDays(STARTS_ON, 1);
const CAR = { description: 'Example car' };

/** What an example states beside the answer that is judged. */
export interface Setting {
  vehicle?: Partial<Vehicle>;
  answers?: RawAnswers;
  measured?: RawAnswers;
  parameters?: Example['parameters'];
  venue?: Example['venue'];
  earlier?: Example['earlier'];
  /** other days than those of every example */
  event?: Example['event'];
  stage?: Example['stage'];
}

/** One rule, one situation, and what must come of it. */
export interface ExampleCase extends Setting {
  shows: string;
  result: Result | 'absent';
  /** results at single positions, by position */
  at?: Readonly<Record<string, Result | 'absent'>>;
  /** the verdict, where it is not what the rule's effect makes of the result */
  expect?: Verdict;
}

const OF_EFFECT: Readonly<Record<Effect, Verdict>> = { bar: 'barred', inspect: 'to-inspect', advise: 'clean' };

/** The document's form of a case: only this rule is judged, so that the verdict shows its effect. */
export function toExample(rule: Rule, given: ExampleCase): Example {
  const {
    shows,
    result,
    at = {},
    expect,
    vehicle,
    answers = {},
    measured,
    parameters,
    venue,
    earlier,
    event,
    stage,
  } = given;
  const isFine = result === 'met' || result === 'absent';
  const places = Object.entries(at).map(([position, one]) => [`${rule.id}@${position}`, one]);
  return {
    name: `${rule.id}: ${shows}`.slice(0, 200),
    vehicle: { ...CAR, ...vehicle },
    answers,
    ...(measured && { measured }),
    ...(parameters && { parameters }),
    event: event ?? { startsOn: STARTS_ON, endsOn: ENDS_ON },
    ...(venue && { venue }),
    ...(earlier && { earlier }),
    ...(stage && { stage }),
    only: [rule.id],
    expect: expect ?? (isFine ? 'clean' : OF_EFFECT[rule.effect]),
    findings: { [rule.id]: result, ...Object.fromEntries(places) },
  };
}
