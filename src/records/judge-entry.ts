import type { Answers } from '../domain/declaration.ts';
import { evaluate } from '../domain/rules/evaluate.ts';
import type { Judgement } from '../domain/rules/finding.ts';
import type { EventDays } from '../domain/rules/rule-set.ts';
import { activeConcessions } from '../domain/standing-bars.ts';
import type { JudgingContext } from './judging-context.ts';
import { type JudgingRules, overridesOf } from './rules.ts';

/** What a stored inspection needs to be judged again the same way: kept with it, whatever changes later. */
export type JudgedWith = Pick<JudgingContext, 'vehicle' | 'parameters' | 'resolvedHash' | 'venue' | 'concessions'> & {
  event: EventDays;
};

/**
 * Judges answers in the context of an entry. Only concessions in force at `now` count.
 *
 * @param input `stage` `declaration`: what only the inspector can answer is not known yet; `line`: it must be
 */
export function judgeEntry(
  rules: JudgingRules,
  context: JudgedWith,
  input: { answers: Answers; measured?: Answers; stage: 'declaration' | 'line'; now: Date },
): Judgement {
  const { timeZone: _, ...venue } = context.venue;
  return evaluate(rules.compiled, {
    answers: input.answers,
    ...(input.measured === undefined ? {} : { measured: input.measured }),
    vehicle: context.vehicle,
    event: { startsOn: context.event.startsOn, endsOn: context.event.endsOn },
    venue,
    parameters: overridesOf(context),
    concessions: activeConcessions(context.concessions, input.now),
    stage: input.stage,
  });
}
