import fc from 'fast-check';
import { CATALOGUE, itemApplies, positionsFor } from '../../src/domain/catalogue/catalogue.ts';
import { type AnswerType, type Item, POSITION_KEYS, type SimpleAnswerType } from '../../src/domain/catalogue/item.ts';
import { convert, dimensionOf, UNITS, type Unit } from '../../src/domain/quantity.ts';
import type { Vehicle } from '../../src/domain/vehicle.ts';

const ALL_UNITS = Object.keys(UNITS) as Unit[];

const arbDate = (): fc.Arbitrary<string> =>
  fc
    .date({ min: new Date('1960-01-01'), max: new Date('2099-12-31'), noInvalidDate: true })
    .map((date) => date.toISOString().slice(0, 10));

/** Numbers with at most so many decimals, both ends included. */
export function arbDecimal(min: number, max: number, decimals: number): fc.Arbitrary<number> {
  const scale = 10 ** decimals;
  return fc.integer({ min: Math.ceil(min * scale), max: Math.floor(max * scale) }).map((value) => value / scale);
}

function arbNumber(type: Extract<SimpleAnswerType, { kind: 'number' }>): fc.Arbitrary<unknown> {
  const bare = arbDecimal(type.min, type.max, type.decimals);
  const units = ALL_UNITS.filter((unit) => dimensionOf(unit) === dimensionOf(type.unit));
  const inUnit = fc.tuple(bare, fc.constantFrom(...units)).map(([value, unit]) => ({
    value: convert(value, type.unit, unit),
    unit,
  }));
  return fc.oneof(bare, inUnit);
}

function arbSimple(type: SimpleAnswerType): fc.Arbitrary<unknown> {
  switch (type.kind) {
    case 'number':
      return arbNumber(type);
    case 'choice':
      return fc.constantFrom(...type.options);
    case 'choices':
      return fc.subarray([...type.options]);
    case 'confirm':
    case 'yes-no':
      return fc.boolean();
    case 'date':
      return arbDate();
    case 'text':
      return type.pattern
        ? fc
            .stringMatching(new RegExp(`^(?:${type.pattern.source})$`, 'u'))
            .filter((text) => text.length <= type.maxLength)
        : fc.stringMatching(/^[A-Za-z0-9][A-Za-z0-9 /.-]{0,10}$/u);
  }
}

const PLACE_ARBITRARIES = new WeakMap<AnswerType, fc.Arbitrary<unknown>>();

/** Made once per answer type: properties ask for whole declarations, vehicle by vehicle. */
function arbPlace(type: AnswerType): fc.Arbitrary<unknown> {
  const made = PLACE_ARBITRARIES.get(type) ?? makePlace(type);
  PLACE_ARBITRARIES.set(type, made);
  return made;
}

function makePlace(type: AnswerType): fc.Arbitrary<unknown> {
  if (type.kind !== 'fields') return arbSimple(type);
  const parts = Object.entries(type.fields);
  const required = parts.filter(([, field]) => field.required).map(([name]) => name);
  const model = Object.fromEntries(parts.map(([name, field]) => [name, arbSimple(field.type)]));
  const first = parts[0]?.[0] ?? '';
  return fc.record(model, { requiredKeys: required.length > 0 ? required : [first], noNullPrototype: true });
}

function arbAt(item: Item, positions: readonly string[] | undefined, all: boolean): fc.Arbitrary<unknown> {
  if (positions === undefined) return arbPlace(item.answer);
  const model = Object.fromEntries(positions.map((position) => [position, arbPlace(item.answer)]));
  return fc.record(model, { requiredKeys: all ? [...positions] : [], noNullPrototype: true });
}

/** A valid raw answer of an item, at every position of its scheme; numbers bare or with any unit that converts. */
export function arbAnswer(item: Item): fc.Arbitrary<unknown> {
  return arbAt(item, item.positions && POSITION_KEYS[item.positions], true);
}

/** Valid raw answers to items that apply to a car; any item and any position may be left out. */
export function arbRawAnswers(vehicle: Vehicle): fc.Arbitrary<Record<string, unknown>> {
  return fittingTo(vehicle, (SOME_ANSWERS ??= arbAllItems(false)));
}

/** Valid raw answers to every item that applies to a car, at every position: nothing is missing but optional fields. */
export function arbCompleteAnswers(vehicle: Vehicle): fc.Arbitrary<Record<string, unknown>> {
  return fittingTo(vehicle, (ALL_ANSWERS ??= arbAllItems(true)));
}

/** Made once, of all there is, and cut down to each car: to make one car by car takes ten times as long as to use it. */
let SOME_ANSWERS: fc.Arbitrary<Record<string, unknown>> | undefined;
let ALL_ANSWERS: fc.Arbitrary<Record<string, unknown>> | undefined;

function arbAllItems(all: boolean): fc.Arbitrary<Record<string, unknown>> {
  const model = Object.fromEntries(
    CATALOGUE.map((item) => [item.key, arbAt(item, item.positions && POSITION_KEYS[item.positions], all)]),
  );
  return fc.record(model, all ? { noNullPrototype: true } : { requiredKeys: [], noNullPrototype: true });
}

function fittingTo(vehicle: Vehicle, answers: fc.Arbitrary<Record<string, unknown>>) {
  const asked = CATALOGUE.filter((item) => itemApplies(item, vehicle)).map((item) => ({
    key: item.key,
    positions: positionsFor(item, vehicle),
  }));
  return answers.map((raw) =>
    Object.fromEntries(
      asked.flatMap(({ key, positions }) =>
        key in raw ? [[key, positions ? picked(raw[key], positions) : raw[key]]] : [],
      ),
    ),
  );
}

function picked(places: unknown, positions: readonly string[]): Record<string, unknown> {
  const kept = new Set(positions);
  return Object.fromEntries(Object.entries(places as Record<string, unknown>).filter(([place]) => kept.has(place)));
}

const some = <T extends object>(model: { [K in keyof T]: fc.Arbitrary<T[K]> }) =>
  fc.record(model, { requiredKeys: [], noNullPrototype: true });

const perWheel = (value: fc.Arbitrary<number>) => some({ FL: value, FR: value, RL: value, RR: value });
const perAxle = <T>(value: fc.Arbitrary<T>) => some({ front: value, rear: value });

const arbBushing = (): fc.Arbitrary<NonNullable<Vehicle['bushing']>> =>
  fc.dictionary(fc.constantFrom(...POSITION_KEYS.bushing), fc.constantFrom('rubber', 'urethane', 'spherical', 'none'), {
    noNullPrototype: true,
  });

/** A valid vehicle record; any property but the description may be absent. */
export function arbVehicle(): fc.Arbitrary<Vehicle> {
  return fc.record<Vehicle, 'description'>(
    {
      description: fc.constantFrom('Coupe, two seats, 2011', 'Roadster, 1996', 'Saloon, battery, 2022'),
      massKg: arbDecimal(500, 2500, 0),
      drive: fc.constantFrom('front', 'rear', 'all'),
      body: fc.constantFrom('closed', 'open', 'targa'),
      powertrain: fc.constantFrom('combustion', 'hybrid', 'battery'),
      gas: fc.constantFrom('none', 'lpg', 'cng', 'hydrogen'),
      disconnectAt: fc.constantFrom('behind the front lid', 'in the boot, left'),
      sump: fc.constantFrom('wet', 'dry'),
      caliper: perAxle(fc.constantFrom('fixed', 'floating')),
      rotor: perAxle(fc.constantFrom('iron', 'carbon')),
      bushing: arbBushing(),
      cooling: fc.constantFrom('liquid', 'air'),
      damper: some({ rebuildable: fc.boolean(), use: fc.constantFrom('club', 'professional') }),
      restraint: fc.constantFrom('three-point', 'harness'),
      harnessPoints: fc.constantFrom(4, 5, 6),
      hydraulicClutch: fc.boolean(),
      separateDifferential: fc.boolean(),
      fuelCell: fc.boolean(),
      wheelNutTorqueNm: arbDecimal(60, 700, 0),
      wheelStudDiameterMm: arbDecimal(10, 22, 1),
      rotorMinimumThicknessMm: perWheel(arbDecimal(5, 40, 1)),
      rotorMinimumWeightG: perWheel(arbDecimal(2000, 9000, 0)),
      coldPressurePlacardKpa: perAxle(arbDecimal(100, 400, 0)),
      axleLoadKg: perAxle(arbDecimal(200, 1400, 0)),
      highVoltageV: arbDecimal(48, 900, 0),
    },
    { requiredKeys: ['description'], noNullPrototype: true },
  );
}
