import { findItem } from '../../catalogue/catalogue.ts';
import { type Item, POSITION_KEYS, type PositionScheme } from '../../catalogue/item.ts';
import type { Rule } from './rule-set.ts';

const PARENT: Partial<Record<PositionScheme, PositionScheme>> = {
  'wheel-side': 'wheel',
  'wheel-zone': 'wheel',
  wheel: 'axle',
};

function parentOf(position: string, scheme: PositionScheme): string {
  if (scheme === 'wheel') return position.startsWith('F') ? 'front' : 'rear';
  return position.split('.')[0] ?? position;
}

/** How an item's scheme stands to the scheme a rule runs over: `FL.in` is finer than `FL`, `front` coarser. */
export type Relation = 'same' | 'coarser' | 'finer' | 'unrelated';

const isWithin = (fine: PositionScheme, coarse: PositionScheme): boolean => {
  for (let scheme = PARENT[fine]; scheme !== undefined; scheme = PARENT[scheme]) if (scheme === coarse) return true;
  return false;
};

/** How the scheme of an item stands to that of the rule. */
export function relate(item: PositionScheme, each: PositionScheme): Relation {
  if (item === each) return 'same';
  if (isWithin(item, each)) return 'finer';
  return isWithin(each, item) ? 'coarser' : 'unrelated';
}

/** The position of a coarser scheme that a position lies in: `FL.in` as wheel is `FL`, as axle `front`. */
export function enclosing(position: string, from: PositionScheme, to: PositionScheme): string | undefined {
  let at = position;
  for (let scheme: PositionScheme | undefined = from; scheme !== undefined; scheme = PARENT[scheme]) {
    if (scheme === to) return at;
    at = parentOf(at, scheme);
  }
  return undefined;
}

/** The positions of a finer scheme within one position, with the short names rules use: `in` and `out` of `FL`. */
export function subPositions(
  item: PositionScheme,
  each: PositionScheme,
  position: string,
): readonly { name: string; position: string }[] {
  const isInWheel = each === 'wheel';
  return POSITION_KEYS[item]
    .filter((candidate) => enclosing(candidate, item, each) === position)
    .map((candidate) => ({ name: isInWheel ? candidate.slice(position.length + 1) : candidate, position: candidate }));
}

/** The names a rule that runs over `each` uses for the positions of a finer or unrelated item. */
export function mapNames(item: PositionScheme, each: PositionScheme | undefined): readonly string[] {
  if (each === undefined || relate(item, each) === 'unrelated') return POSITION_KEYS[item];
  const names = POSITION_KEYS[each].flatMap((position) => subPositions(item, each, position).map(({ name }) => name));
  return [...new Set(names)];
}

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
