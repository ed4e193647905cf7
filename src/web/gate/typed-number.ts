export const MOST_CHARACTERS = 4;

/** The letters that numbers in the list have, each as it is written there. */
export function lettersIn(numbers: readonly string[]): string[] {
  return [...new Set(numbers.join('').replace(/\d/g, ''))].sort();
}

/**
 * What stands after one more character. Letters are typed as the event writes them, where it writes them in one way
 * only; what no car number can have is left out.
 */
export function typed(before: string, character: string, letters: readonly string[]): string {
  if (!/^[0-9A-Za-z]$/.test(character) || before.length >= MOST_CHARACTERS) return before;
  if (letters.includes(character)) return before + character;
  const same = letters.find((letter) => letter.toLowerCase() === character.toLowerCase());
  return before + (same ?? character);
}
