import type { CarFacts } from '../../domain/clearance/car-facts.ts';
import { type OpenCondition, standingBars } from '../../domain/clearance/clearance.ts';
import { TORQUE_RECHECK_TEXT, torqueRecheckTimes } from '../../domain/log/torque-recheck.ts';
import type { Judgement } from '../../domain/rules/model/finding.ts';
import { ownSwitch } from '../../domain/rules/model/own-parameters.ts';
import type { JudgingContext } from './judging-context.ts';
import { type JudgingRules, overridesOf, type RulesRef } from './rules.ts';

export type AskedCondition = Omit<OpenCondition, 'id'>;

/** What an acceptance is given with, and what judged it. */
export interface Accepting {
  /** the conditions that the inspector names */
  given: readonly AskedCondition[];
  judgement: Judgement;
  rules: JudgingRules;
  ref: Pick<RulesRef, 'resolvedHash' | 'parameters'>;
  context: Pick<JudgingContext, 'firstSessionAt' | 'venue' | 'event'>;
  /** of its other entries too */
  car: CarFacts;
  entryId: string;
  now: Date;
}

/** All conditions of an acceptance: what the inspector, the concessions that carry it, and the rules ask for, each text once. */
export function conditionsOfAcceptance(accepting: Accepting): AskedCondition[] {
  const { given, judgement } = accepting;
  const named = new Set(given.map(({ text }) => text));
  const conceded = new Set(standingBars(judgement.findings).flatMap(({ condition }) => condition ?? []));
  const asked = [...[...conceded].map((text) => ({ text })), ...torqueRecheck(accepting)];
  return [...given, ...asked.filter(({ text }) => !named.has(text))];
}

/** Wheel torque again after the first session, where the rules ask for it: once for the car, whichever entry asks first. */
function torqueRecheck({ rules, ref, context, car, entryId, now }: Accepting): AskedCondition[] {
  if (!ownSwitch(rules.compiled.ruleSet, overridesOf(ref), 'torqueRecheck')) return [];
  const others = car.conditions.filter((one) => one.entryId !== entryId);
  if (others.some(({ recheck }) => recheck?.of === 'torque')) return [];
  const { firstSessionAt, venue, event } = context;
  const { from, dueAt } = torqueRecheckTimes({ firstSessionAt, timeZone: venue.timeZone, endsOn: event.endsOn }, now);
  const due = dueAt === undefined ? {} : { dueAt: dueAt.toISOString() };
  return [{ text: TORQUE_RECHECK_TEXT, ...due, recheck: { of: 'torque', from: from.toISOString() } }];
}
