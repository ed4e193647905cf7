import { daysBetween } from '../calendar.ts';
import { roundTo } from '../quantity.ts';
import { brakeDuty, DUTY_CLASSES, type VenueBrakeDuty } from '../trade/brakes/brake-heat-duty.ts';
import {
  boilingPointAtAge,
  findFluidMinimum,
  FLUID_KINDS,
  fluidKindOf,
  type FluidPoints,
  WATER_PERCENT_PER_YEAR,
} from '../trade/brakes/fluid-boiling.ts';
import { type Fact, type FactInput, numberAt, textAt } from './fact.ts';

const SOURCE = 'brake-heat: an estimate from braking zones and mass; margins are common practice';
const TEMPERATURE = { kind: 'quantity', unit: '°C', decimals: 0 } as const;

/** Estimates are made once per venue and kind of car: cars of one event share a venue, and a car is judged often. */
const kept = new Map<string, VenueBrakeDuty | undefined>();
const MAX_KEPT = 2000;

/** What the venue asks of the brakes of this car; notes what it cannot be known without. */
function findBrakeDuty({ vehicle, venue, need }: FactInput): VenueBrakeDuty | undefined {
  const zones = need(
    venue.brakingZones?.length ? venue.brakingZones : undefined,
    'The venue record has no braking zones',
    'record',
  );
  const massKg = need(vehicle.massKg, 'The vehicle record has no massKg', 'massKg');
  if (zones === undefined || massKg === undefined) return undefined;
  const { lapLengthM, designAirTemperatureC } = venue;
  const { rotor, axleLoadKg, rotorMinimumWeightG } = vehicle;
  const key = JSON.stringify([
    zones,
    lapLengthM,
    designAirTemperatureC,
    massKg,
    rotor,
    axleLoadKg,
    rotorMinimumWeightG,
  ]);
  if (!kept.has(key)) {
    if (kept.size >= MAX_KEPT) kept.clear();
    kept.set(
      key,
      brakeDuty(
        { brakingZones: zones, lapLengthM, designAirTemperatureC },
        { massKg, rotor, axleLoadKg, rotorMinimumWeightG },
      ),
    );
  }
  return need(kept.get(key), 'The braking zones, the lap length and the mass of the car do not fit together');
}

/** What the venue asks of brakes. */
export const BRAKE_FACTS = {
  brakeDutyClass: {
    type: { kind: 'string', options: DUTY_CLASSES },
    meaning: 'how hard the venue is on the brakes of this car',
    source: SOURCE,
    items: [],
    compute: (input) => findBrakeDuty(input)?.dutyClass,
  },
  brakeWetBoilingPointNeeded: {
    type: TEMPERATURE,
    meaning: 'the wet boiling point that the venue asks of this car',
    source: SOURCE,
    items: [],
    compute(input) {
      const duty = findBrakeDuty(input);
      return duty && roundTo(duty.fluidWetBoilingPointNeededC, 0);
    },
  },
  padHighTemperatureNeeded: {
    type: TEMPERATURE,
    scheme: 'axle',
    meaning: 'the upper end that the working range of the pads needs here',
    source: SOURCE,
    items: [],
    compute(input, position) {
      const duty = findBrakeDuty(input);
      return duty && roundTo(duty.padHighTemperatureNeededC[position === 'front' ? 'front' : 'rear'], 0);
    },
  },
  brakeFluidNeedLow: {
    type: TEMPERATURE,
    meaning: 'the lowest boiling point of the brake fluid that may do here: the favourable end of the estimate',
    source: SOURCE,
    items: [],
    compute(input) {
      const duty = findBrakeDuty(input);
      return duty && roundTo(duty.ranges.fluidC.low, 0);
    },
  },
  brakeFluidNeedHigh: {
    type: TEMPERATURE,
    meaning: 'the boiling point of the brake fluid that is enough here in any case: the other end of the estimate',
    source: SOURCE,
    items: [],
    compute(input) {
      const duty = findBrakeDuty(input);
      return duty && roundTo(duty.ranges.fluidC.high, 0);
    },
  },
  padNeedLow: {
    type: TEMPERATURE,
    scheme: 'axle',
    meaning: 'the lowest upper end of a pad range that may do here: the favourable end of the estimate',
    source: SOURCE,
    items: [],
    compute(input, position) {
      const duty = findBrakeDuty(input);
      return duty && roundTo(duty.ranges.padC[position === 'front' ? 'front' : 'rear'].low, 0);
    },
  },
} as const satisfies Readonly<Record<string, Fact>>;

const CLASS = 'brake-fluid.class';
const DRY = 'brake-fluid.dry-boiling-point';
const WET = 'brake-fluid.wet-boiling-point';
const FLUSHED = 'brake-fluid.flushed-on';
const KIND = { kind: 'string', options: FLUID_KINDS } as const;

const minimumOf = (input: FactInput) => {
  const fluidClass = textAt(input, CLASS);
  return fluidClass === undefined ? undefined : findFluidMinimum(fluidClass);
};

const givenNumber = (input: FactInput, key: string): number | undefined => {
  const value = input.given(key);
  return typeof value === 'number' ? value : undefined;
};

/** The label's points; what it does not give is that of its class at least, so that nobody is asked for it. */
function pointsOf(input: FactInput): Partial<FluidPoints> {
  const minimum = minimumOf(input);
  const dryC = givenNumber(input, DRY) ?? minimum?.dryC;
  const wetC = givenNumber(input, WET) ?? minimum?.wetC ?? numberAt(input, WET);
  return { ...(dryC !== undefined && { dryC }), ...(wetC !== undefined && { wetC }) };
}

/** Days from the flush to the last event day; `undefined` where it is not known, or lies after that day. */
function ageOf(input: FactInput): number | undefined {
  const flushedOn = textAt(input, FLUSHED);
  const age = flushedOn === undefined ? undefined : daysBetween(flushedOn, input.event.endsOn);
  return age === undefined || age < 0 ? undefined : age;
}

/**
 * Between fresh and wet by its age, where that is known and the fluid is one that takes up water that way; else the wet
 * point, which is what remains when nothing is known. Mineral oil takes up no water and has no wet point.
 */
function boilsAt(input: FactInput, percentPerYear: number): number | undefined {
  const kind = fluidKindOf(textAt(input, CLASS) ?? '');
  const { dryC, wetC = kind === 'mineral' ? dryC : undefined } = pointsOf(input);
  if (wetC === undefined) return undefined;
  const age = ageOf(input);
  if (dryC === undefined || dryC <= wetC || age === undefined || kind !== 'glycol') return roundTo(wetC, 0);
  return roundTo(boilingPointAtAge({ dryC, wetC }, age, percentPerYear), 0);
}

const POINTS = {
  type: { kind: 'quantity', unit: '°C', decimals: 0 },
  source:
    'fluid-water: dry and wet point of the label, 1 to 3 % of water in a year (common practice); else the wet point',
  items: [WET, DRY, FLUSHED, CLASS],
} as const;

/** A level that the line read, and that is low: whoever read it has the car in front of him, and fluid to fill in. */
const lowAtLine = (fluid: 'brake' | 'clutch'): Fact => {
  const item = `${fluid}-fluid.level`;
  return {
    type: { kind: 'bool' },
    meaning: `whether the line found the ${fluid} fluid low`,
    source: 'what the inspector read',
    items: [item],
    compute(input) {
      const level = textAt(input, item, { field: 'level' });
      return level === undefined ? undefined : level === 'low' && input.atLine(item, { field: 'level' });
    },
  };
};

/** What is in the brakes and the clutch. */
export const BRAKE_FLUID_FACTS = {
  brakeFluidLowAtLine: lowAtLine('brake'),
  clutchFluidLowAtLine: lowAtLine('clutch'),
  brakeFluidEstimate: {
    ...POINTS,
    meaning: 'the boiling point of the brake fluid on the last event day, by its label and age',
    compute: (input) => boilsAt(input, WATER_PERCENT_PER_YEAR.usual),
  },
  brakeFluidAtBest: {
    ...POINTS,
    meaning: 'the boiling point of the brake fluid on the last event day if it took up as little water as it can',
    compute: (input) => boilsAt(input, WATER_PERCENT_PER_YEAR.least),
  },
  brakeFluidClassAtWorst: {
    type: { kind: 'quantity', unit: '°C', decimals: 0 },
    meaning: 'the boiling point that the poorest fluid of this class has on the last event day, at the age of this one',
    source: 'fluid-class, fluid-water: 49 CFR 571.116 and ISO 4925; 3 % of water in a year (common practice)',
    items: [FLUSHED, CLASS],
    compute(input) {
      const [minimum, age] = [minimumOf(input), ageOf(input)];
      if (minimum === undefined || minimum.silicone || age === undefined) return undefined;
      return roundTo(boilingPointAtAge(minimum, age, WATER_PERCENT_PER_YEAR.most), 0);
    },
  },
  brakeFluidClassWet: {
    type: { kind: 'quantity', unit: '°C', decimals: 0 },
    meaning: 'the wet boiling point that every fluid of this class has at least',
    source: 'fluid-class: 49 CFR 571.116 and ISO 4925',
    items: [CLASS],
    compute: (input) => minimumOf(input)?.wetC,
  },
  brakeFluidKind: {
    type: KIND,
    meaning: 'what the brake fluid is made of',
    source: 'fluid-kind: 49 CFR 571.116 S5.1.14; which classes mix is common practice',
    items: [CLASS],
    compute: (input) => fluidKindOf(textAt(input, CLASS) ?? ''),
  },
  clutchFluidKind: {
    type: KIND,
    meaning: 'what the clutch fluid is made of',
    source: 'fluid-kind: 49 CFR 571.116 S5.1.14; which classes mix is common practice',
    items: ['clutch-fluid.class'],
    compute: (input) => fluidKindOf(textAt(input, 'clutch-fluid.class') ?? ''),
  },
} as const satisfies Readonly<Record<string, Fact>>;
