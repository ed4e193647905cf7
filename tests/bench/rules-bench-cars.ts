import { CATALOGUE, itemApplies, positionsFor } from '../../src/domain/catalogue/catalogue.ts';
import type { Item, SimpleAnswerType } from '../../src/domain/catalogue/item.ts';
import { type Answers, type AnswerValue, cellKey } from '../../src/domain/declaration/declaration.ts';
import type { JudgeInput } from '../../src/domain/rules/judge/run.ts';
import type { Vehicle } from '../../src/domain/vehicle.ts';
import { CONFIRMED, listTests } from './rules-bench-set.ts';

/** A small generator with a seed, so that every run judges the same cars (mulberry32). */
function makeRandom(seed: number): () => number {
  let state = seed;
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let mixed = Math.imul(state ^ (state >>> 15), 1 | state);
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed;
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4294967296;
  };
}

/** Around where limits lie: low, high, decimals. */
const USUAL: Readonly<Record<string, readonly [number, number]>> = {
  mm: [3, 12],
  '°C': [150, 500],
  N·m: [80, 170],
  kPa: [90, 260],
  'dB(A)': [85, 105],
  min: [2, 12],
  kg: [200, 400],
  g: [900, 1400],
  '1': [0, 1.1],
};

function answerOf(type: SimpleAnswerType, random: () => number): AnswerValue {
  switch (type.kind) {
    case 'number': {
      // within what is likely meant: the closures know nothing of slips of the pen
      const [least, most] = type.plausible ?? [type.min, type.max];
      const [usualLow, usualHigh] = USUAL[type.unit] ?? [least, most];
      const isApart = usualHigh <= least || usualLow >= most;
      const [low, high] = isApart ? [least, most] : [Math.max(least, usualLow), Math.min(most, usualHigh)];
      const scale = 10 ** type.decimals;
      return Math.round((low + random() * (high - low)) * scale) / scale;
    }
    case 'choice':
      // mostly the first option, the good one
      return type.options[random() < 0.9 ? 0 : Math.floor(random() * type.options.length)] ?? '';
    case 'choices':
      return [];
    case 'confirm':
    case 'yes-no':
      return random() < 0.9;
    case 'date':
      return `${2024 + Math.floor(random() * 2.9)}-${String(1 + Math.floor(random() * 9)).padStart(2, '0')}-15`;
    case 'text':
      return 'as it is';
  }
}

const ITEMS: readonly Item[] = (() => {
  const keys = new Set(listTests().flatMap(({ items }) => items));
  return CATALOGUE.filter((item) => keys.has(item.key));
})();

function answersOf(vehicle: Vehicle, random: () => number): Answers {
  const answers = new Map<string, AnswerValue>();
  for (const item of ITEMS) {
    if (!itemApplies(item, vehicle)) continue;
    if (CONFIRMED.includes(item.key) && random() < 0.03) continue;
    const parts: [string | undefined, SimpleAnswerType][] =
      item.answer.kind === 'fields'
        ? Object.entries(item.answer.fields).map(([name, { type }]) => [name, type])
        : [[undefined, item.answer]];
    for (const position of positionsFor(item, vehicle) ?? [undefined]) {
      for (const [field, type] of parts) answers.set(cellKey(item.key, position, field), answerOf(type, random));
    }
  }
  return answers;
}

const wheels = (value: number) => ({ FL: value, FR: value, RL: value, RR: value });

function vehicleOf(index: number): Vehicle {
  return {
    description: `Invented car ${index}`,
    body: 'closed',
    powertrain: 'combustion',
    cooling: 'liquid',
    sump: 'wet',
    massKg: 1100 + (index % 10) * 80,
    rotor: { front: index % 5 === 0 ? 'carbon' : 'iron', rear: 'iron' },
    restraint: index % 2 === 0 ? 'harness' : 'three-point',
    wheelNutTorqueNm: 120,
    wheelStudDiameterMm: 12,
    rotorMinimumThicknessMm: wheels(8),
    rotorMinimumWeightG: wheels(1000),
  };
}

/** Invented cars of ten kinds with all that the rules ask, all in one run group. */
export function makeBenchCars(count: number): JudgeInput[] {
  const random = makeRandom(20_261_129);
  const parameters = {};
  return Array.from({ length: count }, (_, index) => {
    const vehicle = vehicleOf(index);
    return {
      answers: answersOf(vehicle, random),
      vehicle,
      event: { startsOn: '2026-11-28', endsOn: '2026-11-29' },
      venue: { soundLimitDb: 98, soundDistanceM: 15, topSpeedKmh: 230 },
      parameters,
      concessions: [],
      photos: { 'pad.thickness': 2, 'tyre.tread': 1, 'body.numbers-displayed': index % 2 },
      stage: 'line',
    };
  });
}
