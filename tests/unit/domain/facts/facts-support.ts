import type { AnswerValue } from '../../../../src/domain/declaration/declaration.ts';
import { runOf } from '../../../../src/domain/rules/explain/explain-binder.ts';
import { factPlace } from '../../../../src/domain/rules/model/facts.ts';
import type { JudgeInput, Run } from '../../../../src/domain/rules/judge/run.ts';
import { answersOf, inputOf } from '../rules/rules-support.ts';

export interface Known extends Partial<Omit<JudgeInput, 'answers' | 'measured'>> {
  answers?: Record<string, unknown>;
  measured?: Record<string, unknown>;
}

/** The event of the worked examples: two days in June 2026. */
export const JUNE = { startsOn: '2026-06-13', endsOn: '2026-06-14' };

export function runWith({ answers = {}, measured, ...rest }: Known): Run {
  return runOf(
    inputOf({
      event: JUNE,
      ...rest,
      answers: answersOf(answers),
      ...(measured !== undefined && { measured: answersOf(measured) }),
    }),
  );
}

/** The value of a fact, at a position where it has one. */
export function derive(name: string, known: Known, position?: string): AnswerValue | undefined {
  return factPlace(name, position, known.event ?? JUNE).derive(runWith(known)) as AnswerValue | undefined;
}

/** What a fact that cannot be derived says is missing. */
export function missing(name: string, known: Known, position?: string): string[] {
  const place = factPlace(name, position, known.event ?? JUNE);
  const run = runWith(known);
  if (place.derive(run) !== undefined) throw new Error(`${name} is known`);
  return place.missing(run).map(({ says }) => says);
}
