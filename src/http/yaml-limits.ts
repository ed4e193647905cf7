import type { CST } from 'yaml';

/** Values may nest 40 deep as in JSON; the text nests a little deeper, because a list in a map is two things. */
const MAX_TOKEN_DEPTH = 90;
const MAX_PROPERTIES = 2;

type Nested = CST.Token | undefined | null;
type Container = CST.BlockMap | CST.BlockSequence | CST.FlowCollection;

const isContainer = (token: CST.Token): token is Container =>
  token.type === 'block-map' || token.type === 'block-seq' || token.type === 'flow-collection';

function partsOf(token: CST.Token): Nested[] {
  if (token.type === 'document') return [token.value];
  return isContainer(token) ? token.items.flatMap((item) => [item.key, item.value]) : [];
}

/** Tags and anchors stand before a value, one of each. */
function findStacked(token: CST.Token): number | undefined {
  const starts =
    token.type === 'document'
      ? [token.start]
      : isContainer(token)
        ? token.items.flatMap((item) => [item.start, item.sep ?? []])
        : [];
  for (const start of starts) {
    const properties = start.filter(({ type }) => type === 'tag' || type === 'anchor');
    if (properties.length > MAX_PROPERTIES) return properties[MAX_PROPERTIES]?.offset;
  }
  return undefined;
}

/**
 * What would make the rest of reading slow or exhaust the stack, before anything walks the tree by recursion: texts
 * of brackets alone, or of tags alone.
 */
export function findHostile(tokens: readonly CST.Token[]): { offset: number; detail: string } | undefined {
  let level: CST.Token[] = [...tokens];
  for (let depth = 0; level.length > 0; depth += 1) {
    const [first] = level;
    if (depth > MAX_TOKEN_DEPTH) {
      return { offset: first !== undefined && 'offset' in first ? first.offset : 0, detail: 'nested too deeply' };
    }
    const stacked = level.map(findStacked).find((offset) => offset !== undefined);
    if (stacked !== undefined) return { offset: stacked, detail: 'a value can have one tag and one anchor' };
    level = level.flatMap(partsOf).filter((token) => token !== undefined && token !== null);
  }
  return undefined;
}
