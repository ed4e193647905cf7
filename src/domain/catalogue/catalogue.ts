import { CAR_FACT_ITEMS } from '../car/fact-table.ts';
import type { Vehicle } from '../vehicle.ts';
import {
  type AppliesWhen,
  CONFIRM,
  DATE,
  fields,
  type Item,
  itemsOf,
  number,
  optional,
  POSITION_KEYS,
  type PositionScheme,
  required,
  text,
} from './item.ts';
import { BODY_ITEMS } from './body-safety.ts';
import { BRAKE_HARDWARE_ITEMS, BRAKE_HYDRAULICS_ITEMS } from './brakes.ts';
import { COOLING_ITEMS, ENGINE_ITEMS } from './engine.ts';
import { DRIVELINE_ITEMS, ELECTRIC_ITEMS } from './driveline.ts';
import { SAFETY_EQUIPMENT_ITEMS } from './safety-equipment.ts';
import { SETUP_ITEMS, SUSPENSION_STEERING_ITEMS } from './suspension-steering.ts';
import { WHEELS_TYRES_ITEMS } from './wheels-tyres.ts';

/**
 * Items whose answer mostly stays from event to event: what is filled in or fitted, with its dates. Taking one over by
 * mistake is at worst too strict (a service since then is not counted). Nothing that wears, and no tyre.
 */
export const LASTING_ITEMS: ReadonlySet<string> = new Set([
  'oil.grade',
  'oil.changed-on',
  'brake-fluid.class',
  'brake-fluid.dry-boiling-point',
  'brake-fluid.wet-boiling-point',
  'brake-fluid.flushed-on',
  'clutch-fluid.class',
  'fuel.gas',
  'gas.test-valid-through',
  'gearbox-fluid.changed-on',
  'differential-fluid.changed-on',
  'damper.serviced-on',
  'coolant.changed-on',
  'coolant.type',
  'coolant.cap-pressure',
  'rollover.structure',
  'rollover.closed-car',
  'rollover.padding',
  'helmet.standard',
  'helmet.made-on',
  'clothing',
  'eyewear',
  'harness.standard',
  'harness.label-kind',
  'harness.label-date',
  'harness.shoulder-fixing',
  'harness.seat-slots',
  'head-restraint.standard',
  'seat.standard',
  'seat.made-on',
  'extinguisher.type',
  'extinguisher.serviced-on',
  'fuel-cell.made-on',
]);

/** What the driver wears: it goes with the person and not with the car. */
export const WORN_ITEMS = [
  'helmet.standard',
  'helmet.made-on',
  'clothing',
  'eyewear',
  'head-restraint.standard',
  'head-restraint.tether-posts',
] as const;

/** Items about the person in the car and the papers he signs: another entrant of the same car is not shown them. */
export const PERSONAL_ITEMS: ReadonlySet<string> = new Set([
  ...WORN_ITEMS,
  'full-inspection.done-on',
  'pre-event-check.done-on',
  'declaration.true-and-complete',
  'debrief.symptoms',
]);

/** Items that are answered anew each time, whatever was said before. */
export const FRESH_ITEMS: ReadonlySet<string> = new Set([
  'debrief.symptoms',
  'declaration.true-and-complete',
  'pad.new-since-last',
  'tyre.new-since-last',
]);

/** Items that only the driver can say, who wears the thing or signs for it: no shop answers them for an owner. */
export const DRIVER_ITEMS: ReadonlySet<string> = new Set([
  ...WORN_ITEMS,
  'pre-event-check.done-on',
  'declaration.true-and-complete',
]);

/** What the entrant signs for, and how much the car has run. */
const PAPERS_ITEMS = itemsOf('papers', [
  {
    key: 'full-inspection.done-on',
    label: 'Last full inspection',
    help: 'The day, and the person or workshop who did it.',
    answer: fields({ date: required('Done on', DATE), by: optional('Done by', text(120)) }),
    answeredBy: 'entrant',
  },
  {
    key: 'pre-event-check.done-on',
    label: 'Check before this event done on',
    help: 'The day this list was gone through at the car.',
    answer: DATE,
    answeredBy: 'entrant',
  },
  {
    key: 'car.usage',
    label: 'Odometer or track hours',
    help: 'Whichever you keep; intervals by use are counted from it.',
    answer: fields({
      odometer: optional('Odometer', number('km', [0, 2_000_000], 0, { plausible: [0, 1_000_000] })),
      trackHours: optional('Track hours', number('h', [0, 100_000], 1, { plausible: [0, 20_000] })),
    }),
    answeredBy: 'entrant',
  },
  {
    key: 'declaration.true-and-complete',
    label: 'I declare that these answers are true and complete',
    help: 'You checked the car yourself or know who did, and you will say so if anything changes before you drive.',
    answer: CONFIRM,
    answeredBy: 'entrant',
    cautions: ['general'],
  },
]);

/** Raised whenever an item is added or an answer type changes; an inspection keeps the version it was judged with. */
export const CATALOGUE_VERSION = 3;

/** Every item that can be asked, in the order in which forms and sheets show them. */
export const CATALOGUE: readonly Item[] = [
  ...ENGINE_ITEMS,
  ...BRAKE_HYDRAULICS_ITEMS,
  ...BRAKE_HARDWARE_ITEMS,
  ...DRIVELINE_ITEMS,
  ...SUSPENSION_STEERING_ITEMS,
  ...WHEELS_TYRES_ITEMS,
  ...COOLING_ITEMS,
  ...BODY_ITEMS,
  ...SAFETY_EQUIPMENT_ITEMS,
  ...ELECTRIC_ITEMS,
  ...SETUP_ITEMS,
  ...PAPERS_ITEMS,
];

const ITEM_BY_KEY: ReadonlyMap<string, Item> = new Map(
  [...CATALOGUE, ...CAR_FACT_ITEMS].map((item) => [item.key, item]),
);

/** The item of a key, also of what the line answers about the car itself; `undefined` when there is none. */
export function findItem(key: string): Item | undefined {
  return ITEM_BY_KEY.get(key);
}

const holds = <T>(allowed: readonly T[] | undefined, stated: T | undefined): boolean =>
  allowed === undefined || stated === undefined || allowed.includes(stated);
const same = (wanted: boolean | undefined, stated: boolean | undefined): boolean =>
  wanted === undefined || stated === undefined || wanted === stated;

/** Conditions that list kinds of one property of the car, under the name of the property. */
const KINDS = [
  'body',
  'powertrain',
  'oilLevelMethod',
  'gearbox',
  'sump',
  'restraint',
  'cooling',
  'wheelFastening',
] as const satisfies readonly (keyof AppliesWhen & keyof Vehicle)[];

function carMatches(when: AppliesWhen, vehicle: Vehicle): boolean {
  return (
    KINDS.every((name) => holds<string>(when[name], vehicle[name])) &&
    same(when.rebuildableDampers, vehicle.damper?.rebuildable) &&
    same(when.clutchHydraulic, vehicle.hydraulicClutch) &&
    same(when.separateDifferential, vehicle.separateDifferential) &&
    same(when.fuelCell, vehicle.fuelCell)
  );
}

function axleMatches(when: AppliesWhen, vehicle: Vehicle, axle: 'front' | 'rear'): boolean {
  const caliper = vehicle.caliper?.[axle];
  const rotor = vehicle.rotor?.[axle];
  const brake = rotor === 'drum' ? 'drum' : 'disc';
  return (
    (when.brake === undefined || rotor === undefined || brake === when.brake) &&
    (when.caliper === undefined || caliper === undefined || caliper === when.caliper) &&
    (when.rotor === undefined || rotor === undefined || rotor === when.rotor)
  );
}

type BushingLocation = keyof NonNullable<Vehicle['bushing']>;

function bushingMatches(when: AppliesWhen, vehicle: Vehicle, location: string): boolean {
  // positions of the `bushing` scheme are the keys of the vehicle's bushing record (a test compares the two)
  const type = vehicle.bushing?.[location as BushingLocation];
  if (type === undefined) return true;
  return type !== 'none' && holds(when.bushing, type);
}

const NO_ENGINE_FLUIDS = ['engine-oil', 'fuel'];

function positionMatches(scheme: PositionScheme, when: AppliesWhen, vehicle: Vehicle, position: string): boolean {
  switch (scheme) {
    case 'bushing':
      return bushingMatches(when, vehicle, position);
    case 'strap':
      return position !== 'crotch' || vehicle.harnessPoints !== 4;
    case 'fluid':
      return fluidMatches(vehicle, position);
    case 'axle':
      return axleMatches(when, vehicle, position === 'front' ? 'front' : 'rear');
    case 'wheel':
    case 'wheel-side':
    case 'wheel-zone':
      return axleMatches(when, vehicle, position.startsWith('F') ? 'front' : 'rear');
  }
}

function fluidMatches(vehicle: Vehicle, fluid: string): boolean {
  if (vehicle.powertrain === 'battery' && NO_ENGINE_FLUIDS.includes(fluid)) return false;
  return fluid !== 'coolant' || vehicle.cooling !== 'air';
}

/**
 * The positions at which an item is asked on this car, in the order of its scheme; `undefined` for an item that has
 * no positions, empty when it does not apply. A property the vehicle record does not state counts as holding.
 */
export function positionsFor(item: Item, vehicle: Vehicle): readonly string[] | undefined {
  const scheme = item.positions;
  if (scheme === undefined) return undefined;
  const when = item.appliesWhen ?? {};
  if (!carMatches(when, vehicle)) return [];
  return POSITION_KEYS[scheme].filter((position) => positionMatches(scheme, when, vehicle, position));
}

/** Whether the record states that the car has what an item asks about; where it says nothing, the item is asked all the same. */
export function isOnRecord({ appliesWhen: when = {} }: Item, position: string | undefined, vehicle: Vehicle): boolean {
  const axle = position === 'front' || position?.startsWith('F') ? 'front' : 'rear';
  if (when.brake !== undefined || when.rotor !== undefined) return vehicle.rotor?.[axle] !== undefined;
  if (when.clutchHydraulic !== undefined) return vehicle.hydraulicClutch === when.clutchHydraulic;
  return when.separateDifferential !== undefined && vehicle.separateDifferential === when.separateDifferential;
}

/** Whether an item is asked on this car at all, at one position or more. */
export function itemApplies(item: Item, vehicle: Vehicle): boolean {
  const when = item.appliesWhen ?? {};
  if (!carMatches(when, vehicle)) return false;
  const positions = positionsFor(item, vehicle);
  if (positions !== undefined) return positions.length > 0;
  return axleMatches(when, vehicle, 'front') || axleMatches(when, vehicle, 'rear');
}
