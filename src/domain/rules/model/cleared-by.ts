import { findItem } from '../../catalogue/catalogue.ts';
import type { Item, SimpleAnswerType } from '../../catalogue/item.ts';
import type { ClearedBy, Rule } from './rule-set.ts';

const isNumber = (type: SimpleAnswerType): boolean => type.kind === 'number';

/** Whether the line can give a new value of an item, and the value is a number (or, of one with parts, has one). */
export function isMeasurable({ answer, answeredBy }: Item): boolean {
  if (answeredBy === 'entrant') return false;
  return answer.kind === 'fields' ? Object.values(answer.fields).some(({ type }) => isNumber(type)) : isNumber(answer);
}

/** Whether the line can give a new value of an item that is read off a label or sidewall: a date or a marking. */
export function isReadOff({ answer, answeredBy }: Item): boolean {
  return answeredBy !== 'entrant' && (answer.kind === 'date' || answer.kind === 'text');
}

function judgesNumber({ test, items }: Rule): boolean {
  if (test.kind === 'expression') return items.some(isMeasurableKey);
  const item = findItem(test.item);
  if (item === undefined || item.answeredBy === 'entrant') return false;
  const { answer } = item;
  if (answer.kind !== 'fields') return isNumber(answer);
  const part = 'field' in test && test.field !== undefined ? answer.fields[test.field] : undefined;
  return part !== undefined && isNumber(part.type);
}

function isMeasurableKey(key: string): boolean {
  const item = findItem(key);
  return item !== undefined && isMeasurable(item);
}

/** What clears a finding of the rule at the line: a tick is not a measurement. */
export function clearedByOf(rule: Rule): ClearedBy {
  return rule.clearedBy ?? (judgesNumber(rule) ? 'measure' : 'look');
}
