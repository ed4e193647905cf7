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
