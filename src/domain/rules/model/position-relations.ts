import { POSITION_KEYS, type PositionScheme } from '../../catalogue/item.ts';

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
