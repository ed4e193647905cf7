import { openRandom, type Random, seedOf } from '../../../src/domain/foresight/random.ts';

/** One car at one event, with what it declared the time before; lengths in mm. */
export interface DeclaredCar {
  /** sessions driven since the time before */
  driven: number;
  before: { padMm: Record<string, number>; treadMm: Record<string, number> };
  now: { padMm: Record<string, number>; treadMm: Record<string, number> };
  /** said to be new since the time before */
  newSince: { pads: boolean; tyres: boolean };
  massKg: number;
  cornerKg?: { FL: number; FR: number; RL: number; RR: number };
  fluidChangedOn: string;
  builtIn: number;
  /** how its answers came about: `honest`, or what was done instead of looking */
  kind: 'honest' | CarelessKind;
}

export type CarelessKind = 'copied' | 'same-everywhere' | 'guessed' | 'wished';
/** A car whose numbers hide a worn part. */
export const SEVERE: ReadonlySet<string> = new Set<CarelessKind>(['wished']);

const PADS = ['FL.in', 'FL.out', 'FR.in', 'FR.out', 'RL.in', 'RL.out', 'RR.in', 'RR.out'];
const TREADS = ['FL', 'FR', 'RL', 'RR'].flatMap((wheel) => ['in', 'mid', 'out'].map((part) => `${wheel}.${part}`));
const tenth = (mm: number) => Math.max(0.1, Math.round(mm * 10) / 10);

const each = (places: readonly string[], make: (place: string) => number): Record<string, number> =>
  Object.fromEntries(places.map((place) => [place, make(place)]));

/** What was there before and is now, as it really is, and as an honest hand reads it: half a tenth to two tenths off. */
function wearOf(
  random: Random,
  places: readonly string[],
  of: { start: number; rate: number; driven: number; isNew: boolean; newMm: number },
) {
  const rate = of.rate * Math.exp(random.normal() * 0.5);
  const before = each(places, () => of.start + random.normal() * 0.3);
  const shape = of.driven / 0.09;
  const now = each(places, (place) =>
    of.isNew
      ? of.newMm
      : (before[place] ?? 0) - (rate * Math.exp(random.normal() * 0.1) * of.driven * random.gamma(shape)) / shape,
  );
  const read = (mm: number) => tenth(mm + random.normal() * 0.12);
  return {
    before: each(places, (place) => read(before[place] ?? 0)),
    true: now,
    now: each(places, (place) => read(now[place] ?? 0)),
  };
}

/** A car whose answers came about as `kind` says. */
export function makeDeclaredCar(seed: number, kind: DeclaredCar['kind']): DeclaredCar {
  const random = openRandom(seedOf(seed, 504));
  const driven = 2 + random.below(7);
  const isWorn = kind === 'wished';
  const newSince = { pads: !isWorn && random.uniform() < 0.15, tyres: random.uniform() < 0.15 };
  const pad = wearOf(random, PADS, {
    start: isWorn ? 4.5 : 6 + random.uniform() * 5,
    rate: 0.3,
    driven,
    isNew: newSince.pads,
    newMm: 11,
  });
  const tread = wearOf(random, TREADS, {
    start: 3.5 + random.uniform() * 3,
    rate: 0.12,
    driven,
    isNew: newSince.tyres,
    newMm: 6.5,
  });
  const massKg = Math.round(900 + random.uniform() * 800);
  const share = () => 0.25 + random.normal() * 0.01;
  const [FL, FR, RL] = [share(), share(), share()].map((one) => Math.round(one * massKg + random.normal() * 3));
  const cornerKg = {
    FL: FL ?? 0,
    FR: FR ?? 0,
    RL: RL ?? 0,
    RR: Math.round(massKg - (FL ?? 0) - (FR ?? 0) - (RL ?? 0) + random.normal() * 6),
  };
  const honest: DeclaredCar = {
    driven,
    before: { padMm: pad.before, treadMm: tread.before },
    now: { padMm: pad.now, treadMm: tread.now },
    newSince,
    massKg,
    ...(random.uniform() < 0.3 ? { cornerKg } : {}),
    fluidChangedOn: `2026-0${1 + random.below(9)}-15`,
    builtIn: 1990 + random.below(36),
    kind,
  };
  if (kind === 'honest') return honest;
  return { ...honest, now: careless(random, kind, honest) };
}

function careless(random: Random, kind: CarelessKind, { before, now }: DeclaredCar): DeclaredCar['now'] {
  if (kind === 'copied') return before;
  if (kind === 'same-everywhere') {
    const [pad, tread] = [6 + random.below(6), 3 + random.below(4)];
    return { padMm: each(PADS, () => pad), treadMm: each(TREADS, () => tread) };
  }
  // Round numbers around what one would like; or what would pass although it is worn.
  const wish = kind === 'wished' ? 7 + random.uniform() * 2 : 7 + random.uniform() * 3;
  const guess = (mm: number) => Math.round((mm + random.normal() * 0.5) * 2) / 2;
  return {
    padMm: each(PADS, () => guess(wish)),
    treadMm: kind === 'wished' ? now.treadMm : each(TREADS, () => guess(5)),
  };
}
