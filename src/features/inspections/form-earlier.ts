import type { Item } from '../../domain/catalogue/item.ts';
import { FRESH_ITEMS, LASTING_ITEMS, PERSONAL_ITEMS } from '../../domain/catalogue/lasting.ts';
import { parseAnswers } from '../../domain/declaration.ts';
import { isJsonObject } from '../../domain/declaration/read-answer.ts';
import type { FormItem } from './form-schema.ts';
import type { EarlierDeclaration } from './form-store.ts';

/** What was answered last time, in the shape of an answer: offered, never taken by itself. */
export function earlierOf(item: Item, earlier: EarlierDeclaration | undefined): FormItem['earlier'] {
  if (earlier === undefined || !isOffered(item, earlier)) return undefined;
  const answer = withMeasured(item, earlier);
  if (answer === undefined || answer === null || !parseAnswers({ [item.key]: answer }).ok) return undefined;
  return { answer, lasting: LASTING_ITEMS.has(item.key) };
}

/** A confirmation is given anew each time; what is about the person is for that person. */
function isOffered(item: Item, earlier: EarlierDeclaration): boolean {
  if (item.answer.kind === 'confirm' || FRESH_ITEMS.has(item.key) || item.answeredBy === 'inspector') return false;
  return earlier.samePerson || !PERSONAL_ITEMS.has(item.key);
}

/** What the line measured stands for what was declared. */
function withMeasured(item: Item, { answers, checks }: EarlierDeclaration): unknown {
  let answer: unknown = answers[item.key];
  for (const check of checks ?? []) {
    if (check.item !== item.key || check.value === undefined) continue;
    if (item.positions === undefined) answer = check.value;
    else if (check.position !== undefined) {
      answer = { ...(isJsonObject(answer) ? answer : {}), [check.position]: check.value };
    }
  }
  return answer;
}
