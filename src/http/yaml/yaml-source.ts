import { type Document, isAlias, isMap, isScalar, isSeq, type ParsedNode, Scalar } from 'yaml';
import type { Targets, YamlPlace } from './yaml-value.ts';

/** As `findHostile` counts: more is refused there too, where it does not show in the lexemes. */
const MAX_DEPTH = 90;
/** The lexer announces what follows it by these; they stand for no character of the text. */
const MARKS: ReadonlySet<string> = new Set(['\u0002', '\u0018', '\u001f']);
const SCALAR_FOLLOWS = '\u001f';

/** Thrown for a text that nests without end. */
export class NestedTooDeeply extends Error {
  readonly offset: number;
  constructor(offset: number) {
    super('nested too deeply');
    this.offset = offset;
  }
}

/** How much deeper a lexeme leads that is no text. */
const STEPS: ReadonlyMap<string, number> = new Map([
  ['[', 1],
  ['{', 1],
  [']', -1],
  ['}', -1],
]);

/** Follows the lexemes of a text, and ends the reading where the parser would nest without bound. */
export function openDepth(): { note(lexeme: string): void } {
  let depth = 0;
  let offset = 0;
  let isText = false;
  /** `-` and `?` one after the other: each nests in the one before */
  let inARow = 0;
  const follow = (lexeme: string) => {
    depth += STEPS.get(lexeme) ?? 0;
    if (lexeme === '-' || lexeme === '?') inARow += 1;
    else if (lexeme.trim() !== '' || lexeme.includes('\n')) inARow = 0;
    if (depth > MAX_DEPTH || inARow > MAX_DEPTH) throw new NestedTooDeeply(offset);
  };
  return {
    note(lexeme) {
      if (MARKS.has(lexeme)) {
        isText = lexeme === SCALAR_FOLLOWS;
        return;
      }
      if (isText) inARow = 0;
      else follow(lexeme);
      isText = false;
      offset += lexeme.length;
    },
  };
}

export const YAML = 'application/yaml';

/** How much a caller wants a media type (RFC 9110 §12.5.1): the most specific range that takes it decides. */
function wishFor(accept: string, type: string): number {
  const [group = ''] = type.split('/');
  let best = { weight: 0, precision: -1 };
  for (const range of accept.split(',')) {
    const [name = '', ...parameters] = range.split(';').map((part) => part.trim().toLowerCase());
    const precision = [`*/*`, `${group}/*`, type].indexOf(name);
    if (precision <= best.precision) continue;
    const q = Number(parameters.find((parameter) => parameter.startsWith('q='))?.slice(2) ?? 1);
    best = { weight: Number.isFinite(q) ? q : 0, precision };
  }
  return best.weight;
}

/** Whether a caller asks for YAML rather than JSON. Any type, or no wish at all, means JSON. */
export function wantsYaml(accept: string | undefined): boolean {
  return accept !== undefined && wishFor(accept, YAML) > wishFor(accept, 'application/json');
}

/** A text whose parts can be found again by their JSON Pointer. */
export interface YamlSource {
  /**
   * Where a part stands, or what is nearest above it. A text is named by its first character, a map or list under a
   * key by the key.
   *
   * @param offset of a character within a text, in UTF-16 units; its place is told where the text was not rewritten
   *   (escapes), else that of the text
   */
  placeOf(pointer: string, offset?: number): YamlPlace;
}

interface Found {
  node: ParsedNode | null;
  /** where a reader looks for it */
  at: number;
}

const unescape = (part: string): string => part.replaceAll('~1', '/').replaceAll('~0', '~');

const isSpace = (char: string | undefined): boolean => char === ' ' || char === '\n' || char === '\t' || char === '\r';

/** The offset in the text of a character of a scalar; line breaks and indents may differ, nothing else may. */
function offsetInText(text: string, node: Scalar.Parsed, offset: number): number | undefined {
  const value = String(node.value);
  const isBlock = node.type === Scalar.BLOCK_LITERAL || node.type === Scalar.BLOCK_FOLDED;
  const isQuoted = node.type === Scalar.QUOTE_DOUBLE || node.type === Scalar.QUOTE_SINGLE;
  let at = isBlock ? text.indexOf('\n', node.range[0]) + 1 : node.range[0] + (isQuoted ? 1 : 0);
  const skipSpace = () => {
    while (isSpace(text[at])) at += 1;
  };
  for (const char of value.slice(0, offset)) {
    if (isSpace(char)) continue;
    skipSpace();
    if (!text.startsWith(char, at)) return undefined;
    at += char.length;
  }
  if (!isSpace(value[offset])) skipSpace();
  return at < node.range[1] || offset >= value.length ? at : undefined;
}

/** Makes a document whose parts can be found. */
export function makeYamlSource(of: {
  text: string;
  document: Document.Parsed;
  placeAt(offset: number): YamlPlace;
  targets: Targets;
}): YamlSource {
  const follow = (node: ParsedNode | null): ParsedNode | null =>
    isAlias(node) ? follow(of.targets.get(node) ?? null) : node;

  function step(node: ParsedNode | null, name: string): Found | undefined {
    const container = follow(node);
    if (isSeq(container)) {
      const item = container.items[Number(name)];
      return item && { node: item, at: item.range[0] };
    }
    if (!isMap(container)) return undefined;
    const pair = container.items.find(({ key }) => isScalar(key) && (key.source ?? String(key.value)) === name);
    if (pair === undefined) return undefined;
    const { value } = pair;
    const inner = follow(value);
    return { node: value, at: isScalar(inner) && inner === value ? inner.range[0] : pair.key.range[0] };
  }

  return {
    placeOf(pointer, offset) {
      let found: Found = { node: of.document.contents, at: of.document.contents?.range[0] ?? 0 };
      const parts = pointer.split('/').slice(1).map(unescape);
      const isThere = parts.every((name) => {
        const next = step(found.node, name);
        if (next !== undefined) found = next;
        return next !== undefined;
      });
      const inner = isThere && offset !== undefined ? follow(found.node) : null;
      const exact = isScalar(inner) ? offsetInText(of.text, inner, offset ?? 0) : undefined;
      return of.placeAt(exact ?? found.at);
    },
  };
}
