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

/**
 * How a car number can be taken for another: `zeros` (7, 07), `case` (7a, 7A), `characters` (6 and 9, also read upside
 * down; O and 0; I, l and 1; B and 8; S and 5), `swapped` (12, 21). The first two are the same name spoken aloud.
 */
export const LOOK_ALIKE_KINDS = ['zeros', 'case', 'characters', 'swapped'] as const;
export type LookAlikeKind = (typeof LOOK_ALIKE_KINDS)[number];

/** A car as somebody at the track would know it; no names. */
export interface NumberedCar {
  carNumber: string;
  vehicle?: string | undefined;
  colour?: string | undefined;
}

export interface LookAlike extends NumberedCar {
  kind: LookAlikeKind;
}

/** Letters that read as digits in most faces of numbers on doors (common practice, no source). */
const READS_AS: Readonly<Record<string, string>> = { o: '0', i: '1', l: '1', b: '8', s: '5' };
const TURNED: Readonly<Record<string, string>> = { '0': '0', '1': '1', '6': '9', '8': '8', '9': '6' };

/** How the second number can be taken for the first; undefined for equal numbers and for those nobody mixes up. */
export function lookAlikeKind(a: string, b: string): LookAlikeKind | undefined {
  if (a === b) return undefined;
  if (a.toLowerCase() === b.toLowerCase()) return 'case';
  if (plain(a) === plain(b)) return 'zeros';
  if (readsAlike(a, b)) return 'characters';
  return isSwap(plain(a), plain(b)) ? 'swapped' : undefined;
}

/** Spoken by radio they are the same: nobody can answer for one of them before the door was read. */
export function isTwin({ kind }: { kind: LookAlikeKind }): boolean {
  return kind === 'zeros' || kind === 'case';
}

/** The cars that `carNumber` can be taken for, each number once: twins first, then by number. */
export function lookAlikesOf(carNumber: string, cars: readonly NumberedCar[]): LookAlike[] {
  const found = new Map<string, LookAlike>();
  for (const { carNumber: other, vehicle, colour } of cars) {
    const kind = lookAlikeKind(carNumber, other);
    if (kind !== undefined && !found.has(other)) found.set(other, { carNumber: other, vehicle, colour, kind });
  }
  return [...found.values()].sort((a, b) => rank(a) - rank(b) || compareNumbers(a.carNumber, b.carNumber));
}

/**
 * The same for all numbers that can be taken for each other, and for a few that cannot: to find those to look at closer. As
 * `look_key` of the database: the characters in one order, without zeros, letters as the digits they read as, 9 as 6.
 */
export const lookKey = (number: string): string =>
  [...sixForNine(glyphs(number))]
    .filter((char) => char !== '0')
    .sort()
    .join('');

/** The number without leading zeros and capitals. */
export const plain = (number: string): string => withoutZeros(number.toLowerCase());

/** Whether two characters that stand beside each other changed places, and nothing else. */
export function isSwap(a: string, b: string): boolean {
  if (a.length !== b.length) return false;
  const at = [...a].findIndex((char, index) => char !== b[index]);
  return at >= 0 && a.slice(0, at) + (a[at + 1] ?? '') + a[at] + a.slice(at + 2) === b;
}

/** Whether two numbers read alike, with any number of characters mixed up at once. */
export function readsAlike(a: string, b: string): boolean {
  const [one, other] = [glyphs(a), glyphs(b)];
  return sixForNine(withoutZeros(one)) === sixForNine(withoutZeros(other)) || upsideDown(one) === other;
}

const rank = ({ kind }: LookAlike): number => LOOK_ALIKE_KINDS.indexOf(kind);
const withoutZeros = (number: string): string => number.replace(/^0+(?=.)/, '');
const glyphs = (number: string): string => [...number.toLowerCase()].map((char) => READS_AS[char] ?? char).join('');

const sixForNine = (read: string): string => read.replaceAll('9', '6');

// Only where a 6 or 9 is in it: those are the digits that turn into each other, and 81 is no upside-down 18 on a door.
function upsideDown(read: string): string | undefined {
  if (!/^[01689]*[69][01689]*$/.test(read)) return undefined;
  return [...read]
    .reverse()
    .map((digit) => TURNED[digit])
    .join('');
}

function compareNumbers(a: string, b: string): number {
  return a.length - b.length || (a < b ? -1 : 1);
}
