import { brakeDuty, DUTY_CLASSES, type VenueBrakeDuty } from '../trade/brakes/brake-heat-duty.ts';
import { roundTo } from '../quantity.ts';
import type { Fact, FactInput } from './fact.ts';

const SOURCE = 'brake-heat: an estimate from braking zones and mass; margins are common practice';
const TEMPERATURE = { kind: 'quantity', unit: '°C', decimals: 0 } as const;

/** Estimates are made once per venue and kind of car: cars of one event share a venue, and a car is judged often. */
const kept = new Map<string, VenueBrakeDuty | undefined>();
const MAX_KEPT = 2000;

/** What the venue asks of the brakes of this car; notes what it cannot be known without. */
export function findBrakeDuty({ vehicle, venue, need }: FactInput): VenueBrakeDuty | undefined {
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
