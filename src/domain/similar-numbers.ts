import { isSwap, plain, readsAlike } from './look-alikes.ts';

const MOST = 6;

/**
 * The car numbers that somebody may have meant: same but for leading zeros or letter case, two neighbours swapped, read
 * alike (any number of characters at once: `lO` for 10, 91 for 16), or one character wrong, missing or too many. Never
 * the number itself; the closest first.
 *
 * @param known the numbers of the event
 */
export function similarNumbers(asked: string, known: readonly string[]): string[] {
  return [...new Set(known)]
    .filter((number) => number !== asked)
    .map((number) => ({ number, distance: distance(asked, number) }))
    .filter((candidate) => candidate.distance < 3)
    .sort((a, b) => a.distance - b.distance || (a.number < b.number ? -1 : 1))
    .slice(0, MOST)
    .map((candidate) => candidate.number);
}

function distance(asked: string, number: string): number {
  const [a, b] = [plain(asked), plain(number)];
  if (a === b) return 0;
  if (isSwap(a, b) || readsAlike(asked, number)) return 1;
  return isOneEdit(a, b) ? 2 : 3;
}

function isOneEdit(a: string, b: string): boolean {
  const [short, long] = a.length <= b.length ? [a, b] : [b, a];
  if (long.length - short.length > 1) return false;
  const at = [...long].findIndex((char, index) => char !== short[index]);
  const rest = short.length === long.length ? short.slice(at + 1) : short.slice(at);
  return at >= 0 && long.slice(at + 1) === rest;
}
