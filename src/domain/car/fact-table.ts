import type { Item, SimpleAnswerType } from '../catalogue/item.ts';

/** Names of facts, without what is known of each: pages need no more than these. */
const ITEM_PREFIX = 'car.';

/** The key under which the line answers what a property of the car is. */
const itemOfField = (field: string): string => ITEM_PREFIX + field;

/** The property that an item of the line is about; nothing for items of the catalogue. */
const fieldOfItem = (item: string): string | undefined =>
  item.startsWith(ITEM_PREFIX) ? item.slice(ITEM_PREFIX.length) : undefined;

/** The key under which the line answers what a number of the car is. */
export const itemOfFact = (path: string): { item: string; position?: string } => {
  const [field = '', position] = path.split('.');
  return { item: itemOfField(field), ...(position !== undefined && { position }) };
};

const PAIRS: Readonly<Record<string, string>> = { FL: 'FR', FR: 'FL', RL: 'RR', RR: 'RL' };

/** The same fact of the other wheel of the axle: one part number, one stamp. */
export function pairOf(path: string): string | undefined {
  const [field = '', position = ''] = path.split('.');
  const other = PAIRS[position];
  return other === undefined ? undefined : `${field}.${other}`;
}

/** Where a fact is read, of these places: itself, or the other wheel of its axle, which then stands for both. */
export function placeOfFact(path: string, places: readonly (string | undefined)[]): string | undefined {
  const { position } = itemOfFact(path);
  return position === undefined || places.includes(position) ? position : pairOf(path)?.split('.')[1];
}

/**
 * How the line finds out what a number of the car is. `alone`: it is read off the part or out of the handbook and typed, a
 * tick would only repeat what was written; `compare`: it is one of what the car is compared with as a whole.
 */
type ReadAt = 'alone' | 'compare';

/** A number of the car's facts. */
export interface NumberFact {
  /** property of `Vehicle` */
  field: string;
  scheme?: 'wheel' | 'axle';
  /** as it stands in a sentence */
  label: string;
  /** where it is found */
  help: string;
  area: Item['area'];
  type: Extract<SimpleAnswerType, { kind: 'number' }>;
  readAt: ReadAt;
  /** marked on the part: without it a measured value of that part proves nothing, so the line reads it */
  stamped?: true;
}

type NumberType = NumberFact['type'];
type Bounds = readonly [from: number, to: number];

const number = (
  unit: NumberType['unit'],
  [min, max]: Bounds,
  decimals: number,
  plausible: Bounds,
): Extract<SimpleAnswerType, { kind: 'number' }> => ({ kind: 'number', unit, min, max, decimals, plausible });

/**
 * The numbers of a car, in the order in which they are shown. Bounds are those of `Vehicle`; what is plausible is from
 * memory of road and club cars, and only decides whether somebody is asked again.
 */
export const NUMBER_FACTS: readonly NumberFact[] = [
  {
    field: 'massKg',
    label: 'the mass with driver',
    help: 'On a scale, or the papers of the car and the driver added.',
    area: 'papers',
    type: number('kg', [1, 5000], 0, [350, 3000]),
    readAt: 'compare',
  },
  {
    field: 'axleLoadKg',
    scheme: 'axle',
    label: 'the load on the axle',
    help: 'On a scale, with the driver in the car.',
    area: 'papers',
    type: number('kg', [1, 3000], 0, [150, 1800]),
    readAt: 'compare',
  },
  {
    field: 'topSpeedKmh',
    label: 'the top speed of the car',
    help: 'In its papers.',
    area: 'papers',
    type: number('km/h', [1, 500], 0, [80, 400]),
    readAt: 'compare',
  },
  {
    field: 'oilReadFromMinutes',
    label: 'the earliest time to read the oil',
    help: 'In the handbook: minutes after stopping the engine.',
    area: 'engine',
    type: number('min', [0, 1440], 0, [0, 60]),
    readAt: 'compare',
  },
  {
    field: 'oilReadToMinutes',
    label: 'the latest time to read the oil',
    help: 'In the handbook: minutes after stopping the engine.',
    area: 'engine',
    type: number('min', [1, 1440], 0, [1, 240]),
    readAt: 'compare',
  },
  {
    field: 'wheelNutTorqueNm',
    label: 'the torque of the wheel bolts',
    help: 'In the handbook, or on the plate of the wheel.',
    area: 'wheels-tyres',
    type: number('N·m', [1, 2000], 0, [60, 700]),
    readAt: 'alone',
  },
  {
    field: 'wheelNutTorqueToleranceNm',
    label: 'how far from that torque the maker allows',
    help: 'In the handbook.',
    area: 'wheels-tyres',
    type: number('N·m', [1, 200], 0, [1, 60]),
    readAt: 'compare',
  },
  {
    field: 'wheelStudDiameterMm',
    label: 'the diameter of the wheel bolts',
    help: '14 of M14×1.5; on the head of the bolt, or in the handbook.',
    area: 'wheels-tyres',
    type: number('mm', [1, 40], 1, [8, 24]),
    readAt: 'compare',
  },
  {
    field: 'wheelThreadPitchMm',
    label: 'the pitch of their thread',
    help: '1.5 of M14×1.5; on the head of the bolt, or in the handbook.',
    area: 'wheels-tyres',
    type: number('mm', [0.1, 4], 2, [0.8, 2.5]),
    readAt: 'compare',
  },
  {
    field: 'rotorMinimumThicknessMm',
    scheme: 'wheel',
    label: 'the least thickness stamped on the rotor',
    help: 'On the hat or the edge of the rotor, as "MIN TH". Both rotors of an axle have the same.',
    area: 'brake-hardware',
    type: number('mm', [1, 60], 2, [4, 42]),
    readAt: 'alone',
    stamped: true,
  },
  {
    field: 'rotorMinimumWeightG',
    scheme: 'wheel',
    label: 'the least weight stamped on the carbon rotor',
    help: 'On the hat of the rotor, in grams. Both rotors of an axle have the same.',
    area: 'brake-hardware',
    type: number('g', [1, 20000], 0, [500, 12000]),
    readAt: 'alone',
    stamped: true,
  },
  {
    field: 'drumMaximumDiameterMm',
    scheme: 'wheel',
    label: 'the largest diameter marked in the drum',
    help: 'In the drum, as "MAX DIA". Both drums of an axle have the same.',
    area: 'brake-hardware',
    type: number('mm', [1, 600], 1, [120, 420]),
    readAt: 'alone',
    stamped: true,
  },
  {
    field: 'coldPressurePlacardKpa',
    scheme: 'axle',
    label: 'the cold tyre pressure of the placard',
    help: 'In the door frame or the filler flap.',
    area: 'wheels-tyres',
    type: number('kPa', [1, 800], 0, [120, 450]),
    readAt: 'compare',
  },
  {
    field: 'hubEndFloatMaximumMm',
    scheme: 'axle',
    label: 'the most end float of the wheel bearing',
    help: 'In the workshop handbook.',
    area: 'suspension-steering',
    type: number('mm', [0.001, 1], 3, [0.01, 0.3]),
    readAt: 'compare',
  },
  {
    field: 'highVoltageV',
    label: 'the voltage of the traction battery',
    help: 'On its plate.',
    area: 'electric',
    type: number('V', [1, 1500], 0, [48, 1000]),
    readAt: 'compare',
  },
];

const BY_FIELD: ReadonlyMap<string, NumberFact> = new Map(NUMBER_FACTS.map((fact) => [fact.field, fact]));

/** The number behind the path of a fact, `rotorMinimumThicknessMm.FL`; nothing where it is no number of the table. */
export const numberFactOf = (path: string): NumberFact | undefined => BY_FIELD.get(path.split('.')[0] ?? '');

/** The whole car beside what is written of it: one look, one tick. */
export const AS_DESCRIBED = 'car.as-described';

/** The path of the fact that an answer of the line is about; nothing for other items. */
export function factOfItem(item: string, position: string | undefined): string | undefined {
  const field = fieldOfItem(item) ?? '';
  const fact = BY_FIELD.get(field);
  if (fact === undefined || (fact.scheme === undefined) !== (position === undefined)) return undefined;
  return position === undefined ? field : `${field}.${position}`;
}

const capital = (text: string): string => text.slice(0, 1).toUpperCase() + text.slice(1);

/**
 * What only the line answers about the car itself. They are in no form: the record of the car has them, and they become
 * points where it was written by somebody who may be wrong.
 */
export const CAR_FACT_ITEMS: readonly Item[] = [
  {
    key: AS_DESCRIBED,
    area: 'papers',
    label: 'The car is as it is described',
    help: 'Compare the car with what the entrant wrote of it.',
    answer: { kind: 'confirm' },
    answeredBy: 'inspector',
  },
  ...NUMBER_FACTS.map(
    ({ field, scheme, label, help, area, type }): Item => ({
      key: itemOfField(field),
      area,
      label: capital(label),
      help,
      answer: type,
      ...(scheme !== undefined && { positions: scheme }),
      answeredBy: 'inspector',
    }),
  ),
];
