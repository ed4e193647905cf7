/** Numbers that follow from a seed alone. */
export interface Random {
  /** from 0 (inclusive) to 1 (exclusive) */
  next(): number;
  /** a whole number, both ends included */
  between(least: number, most: number): number;
  pick<T>(options: readonly T[]): T;
  chance(probability: number): boolean;
  shuffled<T>(items: readonly T[]): T[];
}

/** A generator of its own for each name, so that what one client draws does not move what another draws. */
export function randomOf(seed: number, name: string): Random {
  let state = hash(`${seed}/${name}`);
  // mulberry32, public domain: small, and good enough to choose faults.
  const next = () => {
    state = (state + 0x6d2b79f5) | 0;
    let mixed = Math.imul(state ^ (state >>> 15), 1 | state);
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed;
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 2 ** 32;
  };
  const between = (least: number, most: number) => least + Math.floor(next() * (most - least + 1));
  return {
    next,
    between,
    pick: (options) => options[between(0, options.length - 1)] as (typeof options)[number],
    chance: (probability) => next() < probability,
    shuffled(items) {
      const left = [...items];
      for (let last = left.length - 1; last > 0; last -= 1) {
        const other = between(0, last);
        [left[last], left[other]] = [left[other] as (typeof left)[number], left[last] as (typeof left)[number]];
      }
      return left;
    },
  };
}

/** FNV-1a, 32 bits. */
function hash(text: string): number {
  let value = 0x811c9dc5;
  for (const character of text) value = Math.imul(value ^ (character.codePointAt(0) ?? 0), 0x01000193);
  return value;
}
