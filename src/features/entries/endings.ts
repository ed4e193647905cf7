import { addDays } from '../../domain/calendar.ts';
import { CATALOGUE } from '../../domain/catalogue/catalogue.ts';
import type { Ending } from '../../domain/prepare/countdown.ts';
import type { Finding } from '../../domain/rules/model/finding.ts';
import type { Rule } from '../../domain/rules/model/rule-set.ts';
import type { JudgingContext } from '../../records/judging/judging-context.ts';

/** Every item that asks for the day something was changed or serviced: its name says so. */
export const SERVICES: ReadonlySet<string> = new Set(
  CATALOGUE.map(({ key }) => key).filter((key) => /\.(changed|flushed|serviced)-on$/u.test(key)),
);

/** Until when something is accepted: a service that is due again, or a label that ends. */
export interface EndingOf extends Ending {
  of: 'service' | 'label';
}

const isAtStart = (test: Rule['test'] | undefined): boolean => test?.kind === 'age' && test.at === 'event-start';

/** Until when labels, fluids and services are accepted: of each rule on a date its first end, as its margin in days says it. */
export function endingsOf(
  findings: readonly Finding[],
  rules: readonly Rule[],
  { event }: Pick<JudgingContext, 'event'>,
): EndingOf[] {
  const tests = new Map(rules.map(({ id, test }) => [id, test]));
  const first = new Map<string, EndingOf>();
  for (const { ruleId, title, items, margin, counts, result, effect } of findings) {
    if (margin?.unit !== 'day' || effect === 'advise' || (result === 'not-met' && counts === 'no')) continue;
    const on = addDays(isAtStart(tests.get(ruleId)) ? event.startsOn : event.endsOn, margin.value);
    const of = items.some((key) => SERVICES.has(key)) ? 'service' : 'label';
    const known = first.get(title);
    if (known === undefined || on < known.on) first.set(title, { title, on, of });
  }
  return [...first.values()];
}
