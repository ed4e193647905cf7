import type { Answers } from '../../declaration/declaration.ts';
import type { EarlierEvent } from '../../facts/fact.ts';
import type { Vehicle } from '../../vehicle.ts';
import type { EventDays, ParameterOverride, VenueFacts } from './rule-set.ts';

/** A concession in force: it downgrades the bar of exactly this rule to a look at the line. */
export interface ActiveConcession {
  ruleId: string;
  concessionId: string;
  /** instant, RFC 3339; shown only: the caller passes concessions that are in force */
  expiresAt: string;
  /** what it asks for; shown only */
  condition?: string | undefined;
}

/**
 * All that a judgement depends on. Values are not changed by judging and must not be changed while it runs.
 * Answers are in canonical units (`parseAnswers`), dates are plain dates at the venue.
 */
export interface JudgeInput {
  answers: Answers;
  /** the inspector's measurements: they win over what was declared */
  measured?: Answers;
  vehicle: Vehicle;
  event: EventDays;
  venue: VenueFacts;
  /** the run group's overrides by name; names the rule set does not have are ignored (`checkOverrides` refuses them) */
  parameters: Readonly<Record<string, ParameterOverride>>;
  concessions: readonly ActiveConcession[];
  /** paths of the car's facts that nobody confirmed: what rests on one of them is looked at; absent: none */
  unconfirmed?: readonly string[] | undefined;
  /** evidence photos per catalogue key */
  photos?: Readonly<Record<string, number>>;
  /** earlier events of the same car, oldest first; absent: none is known */
  earlier?: readonly EarlierEvent[] | undefined;
  /** `declaration`: items that only the inspector answers are not known yet; `line`: they must be */
  stage: 'declaration' | 'line';
}
