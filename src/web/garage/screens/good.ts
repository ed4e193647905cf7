import { cellOf, type FormItem, placesAt, typeOf } from '../kept/asked.ts';
import { type Cells, EACH, isNoAnswer, type Leaf, leafAt, sameLeaf } from '../kept/cells.ts';

/**
 * The answer of a thing that is as it must be, by item; of an answer with parts, by part. A confirmation needs none: it is
 * given or not. Offered below what was looked at, never set by itself.
 */
const GOOD: Readonly<Record<string, Leaf | Readonly<Record<string, Leaf>>>> = {
  'engine.leaks': 'none',
  'brake-fluid.level': { level: 'ok' },
  'clutch-fluid.level': { level: 'ok' },
  'coolant.level': { level: 'ok' },
  'radiator.debris': 'clear',
  'brake.pedal': 'firm',
  'brake.parking': 'holds',
  'lamps.warning': 'none',
  'fuel.gas': 'none',
  'gas.leak': 'none',
  'gas.tank-valve': 'closes',
  'belt.condition': 'ok',
  'seat.condition': 'ok',
  'tyre.cords-visible': false,
  'tyre.cuts-or-bulges': false,
  'tyre.axle-marking': { same: true },
  'wheel.cracks': 'none',
  'wheel.bent': { bent: false },
  'wheel.weights-present': 'present',
  'wheel.clean': true,
  'wheel.fitting': 'as-the-maker-fitted',
  'wheel-play.nine-three': { felt: 'none' },
  'wheel-play.twelve-six': { felt: 'none' },
  'pad.even': true,
  'rotor.cracks': 'none',
  'caliper.boots': 'ok',
  'caliper.seals': 'ok',
  'caliper.guides': 'ok',
  'drum.wheel-cylinders': 'dry',
  'drum.condition': 'sound',
  'gearbox-fluid.level': { level: 'at-hole' },
  'differential-fluid.level': { level: 'at-hole' },
  'bushing.condition': 'ok',
  'bushing.lubricated': true,
  'bushing.clean': true,
  'damper.leak': 'none',
  'damper.mount-play': 'none',
  'oil.level.at-operating-temperature': true,
  'harness.seat-slots': true,
  'head-restraint.tether-posts': true,
  'hv.damage-or-work': 'none',
  'hv.status-light': 'works',
};

/** By cell, what an item is answered with where all is as it must be; undefined: there is no one good answer. */
export function goodCells(item: FormItem): Readonly<Record<string, Leaf>> | undefined {
  const good = typeOf(item).kind === 'confirm' ? true : GOOD[item.key];
  if (good === undefined) return undefined;
  const at = item.positions === undefined ? undefined : EACH;
  if (typeof good !== 'object' || Array.isArray(good)) return { [cellOf(item.key, at)]: good as Leaf };
  const parts = good as Readonly<Record<string, Leaf>>;
  return Object.fromEntries(Object.entries(parts).map(([field, leaf]) => [cellOf(item.key, at, field), leaf]));
}

export type RowState = 'open' | 'good' | 'other' | 'not-sure';

/** What is said of an item at all its places: nothing at one of them, all good, or something else. */
export function rowState(item: FormItem, cells: Cells): RowState {
  const good = goodCells(item) ?? {};
  const leaves = (item.positions ?? [undefined]).flatMap((position) =>
    placesAt(item, position)
      .filter(({ part }) => part?.required !== false)
      .map((place) => ({ place, leaf: leafAt(cells, place) })),
  );
  if (leaves.some(({ leaf }) => isNoAnswer(leaf))) return 'not-sure';
  if (leaves.some(({ leaf }) => leaf === undefined))
    return leaves.some(({ leaf }) => leaf !== undefined) ? 'other' : 'open';
  const at = item.positions === undefined ? undefined : EACH;
  const isGood = leaves.every(({ place, leaf }) => sameLeaf(leaf, good[cellOf(item.key, at, place.field)]));
  return isGood ? 'good' : 'other';
}

/** The changes that make an item good at all its places: what was said of single places goes. */
export function makeGood(item: FormItem, cells: Cells): Readonly<Record<string, Leaf | undefined>> {
  const own = Object.keys(cells).filter(
    (cell) => cell === item.key || cell.startsWith(`${item.key}@`) || cell.startsWith(`${item.key}#`),
  );
  return { ...Object.fromEntries(own.map((cell) => [cell, undefined])), ...goodCells(item) };
}
