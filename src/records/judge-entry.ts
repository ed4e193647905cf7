import { concessionsInForce } from '../domain/concession.ts';
import type { Answers } from '../domain/declaration.ts';
import { evaluate } from '../domain/rules/evaluate.ts';
import type { Judgement } from '../domain/rules/finding.ts';
import type { EventDays } from '../domain/rules/rule-set.ts';
import type { JudgingContext } from './judging-context.ts';
import { type JudgingRules, overridesOf } from './rules.ts';

/** What a stored inspection needs to be judged again the same way: kept with it, whatever changes later. */
export type JudgedWith = Pick<JudgingContext, 'vehicle' | 'parameters' | 'resolvedHash' | 'venue' | 'concessions'> & {
  event: EventDays;
  /** absent in what was stored before earlier events were looked at */
  earlier?: JudgingContext['earlier'] | undefined;
  /** absent in what was stored before photos were counted */
  photos?: JudgingContext['photos'] | undefined;
};

/** What is kept with an inspection besides vehicle, parameters and the names of its rules. */
export function keptContext({ event, venue, earlier, photos }: JudgingContext): KeptContext {
  return { event: { startsOn: event.startsOn, endsOn: event.endsOn }, venue, earlier, photos };
}

export type KeptContext = Pick<JudgedWith, 'event' | 'venue' | 'earlier' | 'photos'>;

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
    earlier: context.earlier,
    ...(context.photos === undefined ? {} : { photos: context.photos }),
    parameters: overridesOf(context),
    concessions: concessionsInForce(context.concessions, rules.compiled.ruleSet.rules, input.now),
    stage: input.stage,
  });
}
