import { findItem } from '../../catalogue/catalogue.ts';
import { type Item, POSITION_KEYS, type PositionScheme } from '../../catalogue/item.ts';
import { enclosing, relate, subPositions } from './position-relations.ts';
import type { Rule } from './rule-set.ts';

/** The items that decide whether and where a rule applies: the one a typed test judges, else all it lists. */
export function decidingItems(rule: Rule): readonly Item[] {
  const keys = rule.test.kind === 'expression' ? rule.items : [rule.test.item];
  return keys.map((key) => findItem(key)).filter((item) => item !== undefined);
}

/** What the rule runs over: `each`, or what its test implies. `undefined` = once per car. */
export function eachOf(rule: Rule): PositionScheme | undefined {
  const { test } = rule;
  if (test.kind === 'expression') return rule.each;
  if (test.kind === 'photo') return undefined;
  if (test.kind === 'spread') return test.within ?? rule.each;
  return rule.each ?? findItem(test.item)?.positions;
}

function typedFault(rule: Rule, item: Item): string | undefined {
  const { test, each } = rule;
  if (each === undefined) return undefined;
  if (test.kind === 'photo') return 'photos are counted per item, not per position';
  if (test.kind === 'spread') {
    return test.within === undefined || test.within === each ? undefined : `the test runs within ${test.within}`;
  }
  const relation = item.positions === undefined ? 'unrelated' : relate(item.positions, each);
  return relation === 'same' || relation === 'coarser'
    ? undefined
    : `${JSON.stringify(item.key)} has no single value per ${each}`;
}

/** What is wrong with the `each` of a rule; `undefined` = nothing. */
export function findEachFault(rule: Rule): string | undefined {
  const { each, test } = rule;
  const items = decidingItems(rule);
  const [item] = items;
  if (each === undefined || item === undefined) return undefined;
  if (test.kind !== 'expression') return typedFault(rule, item);
  const related = items.some(({ positions }) => positions !== undefined && relate(positions, each) !== 'unrelated');
  return related ? undefined : `none of the items has positions per ${each}`;
}

/**
 * Whether it cannot be told where a rule applies: an item that the catalogue does not have (any more), or an `each`
 * that means nothing for its items. The check refuses such rules; one that gets here has no answer on any car.
 */
export function isPlaceless(rule: Rule): boolean {
  const keys = rule.test.kind === 'expression' ? rule.items : [rule.test.item];
  return keys.some((key) => findItem(key) === undefined) || findEachFault(rule) !== undefined;
}

function covers(item: Item, asked: readonly string[], each: PositionScheme, position: string): boolean {
  const { positions } = item;
  if (positions === undefined) return false;
  const single = enclosing(position, each, positions);
  if (single !== undefined) return asked.includes(single);
  return subPositions(positions, each, position).some((sub) => asked.includes(sub.position));
}

/**
 * The positions a rule runs at on a car, in the order of its scheme; `[undefined]` = once for the car, `[]` = it does
 * not apply. A rule on several items applies where at least one of them does: fail closed.
 *
 * @param askedAt positions of an item on the car; `undefined` for an item without positions that applies
 */
export function positionsOfRule(
  rule: Rule,
  each: PositionScheme | undefined,
  askedAt: (item: Item) => readonly string[] | undefined,
): readonly (string | undefined)[] {
  const items = decidingItems(rule);
  if (each === undefined) return items.some((item) => askedAt(item)?.length !== 0) ? [undefined] : [];
  return POSITION_KEYS[each].filter((position) =>
    items.some((item) => covers(item, askedAt(item) ?? [], each, position)),
  );
}
