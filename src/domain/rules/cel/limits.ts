/** Sizes beyond which an expression is refused before anything expensive runs. */
export const MAX_SOURCE_LENGTH = 2000;
export const MAX_DEPTH = 32;
export const MAX_NODES = 400;

const OPENING = '([{';
const CLOSING = ')]}';

/**
 * Whether brackets nest deeper than `MAX_DEPTH`. A plain scan of the text: it runs before the parser, which recurses.
 * Brackets inside text literals are not counted; an unclosed literal is left to the parser.
 */
export function nestsTooDeep(source: string): boolean {
  let depth = 0;
  let quote = '';
  for (let index = 0; index < source.length; index += 1) {
    const char = source.charAt(index);
    if (quote !== '') {
      if (char === '\\') index += 1;
      else if (char === quote) quote = '';
    } else if (char === '"' || char === "'") quote = char;
    else if (OPENING.includes(char)) depth += 1;
    else if (CLOSING.includes(char)) depth -= 1;
    if (depth > MAX_DEPTH) return true;
  }
  return false;
}
