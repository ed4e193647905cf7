import type { PlainDate } from '../calendar.ts';
import { WHEELS } from '../catalogue/item.ts';
import { type Answers, type AnswerValue, cellKey } from '../declaration/declaration.ts';
import type { EarlierEvent } from '../facts/fact.ts';
import { wearReadings } from '../facts/wear.ts';
import type { VenueFacts } from '../rules/model/rule-set.ts';
import { roundTo } from '../quantity.ts';
import type { Vehicle } from '../vehicle.ts';

/** What is known of a car where somebody opens a computation; without an event only its record is. */
export interface KnownCar {
  vehicle: Vehicle;
  venue?: VenueFacts;
  event?: { startsOn: PlainDate; endsOn: PlainDate };
  answers?: Answers;
  earlier?: readonly EarlierEvent[];
  /** sessions of the event that are still to come, and of one of its days */
  sessions?: { toCome: number; perDay: number };
}

/** What is not known is not there: nothing is assumed here that the computation would not say it assumed. */
export type Part = Readonly<Record<string, unknown>>;
export type Reader = (car: KnownCar) => Part;

export const at = ({ answers }: KnownCar, key: string, position?: string, field?: string): AnswerValue | undefined =>
  answers?.get(cellKey(key, position, field));

/** Without places that hold nothing. */
export function known(part: Part): Part {
  return Object.fromEntries(
    Object.entries(part).filter(([, value]) => {
      if (value === undefined) return false;
      return typeof value !== 'object' || value === null || Object.keys(value).length > 0;
    }),
  );
}

export const brakeHeat: Reader = ({ vehicle, venue }) => {
  const { massKg, axleLoadKg, rotor } = vehicle;
  const { front, rear } = axleLoadKg ?? {};
  const material = (axle: 'front' | 'rear') => {
    const kind = rotor?.[axle];
    return kind === 'iron' || kind === 'carbon' ? { material: kind } : undefined;
  };
  return known({
    brakingZones: venue?.brakingZones?.map(({ name, fromKmh, toKmh }) => known({ name, fromKmh, toKmh })),
    lapLengthM: venue?.lapLengthM,
    massKg,
    // Loads are known to some kilograms: more digits would only look as if somebody had measured them.
    frontWeightShare: front === undefined || rear === undefined ? undefined : roundTo(front / (front + rear), 3),
    ambientC: venue?.designAirTemperatureC,
    front: material('front'),
    rear: material('rear'),
  });
};

/** Thinnest lining of an axle; the front where it is not known which brakes more. */
function thinnestPad(car: KnownCar): number | undefined {
  const read = ['front', 'FL.in', 'FL.out', 'FR.in', 'FR.out'].map((place) => at(car, 'pad.thickness', place));
  const mm = read.filter((one) => typeof one === 'number');
  return mm.length === 0 ? undefined : Math.min(...mm);
}

const fluid: Reader = (car) => {
  const flushedOn = at(car, 'brake-fluid.flushed-on');
  return known({
    dryBoilingPoint: at(car, 'brake-fluid.dry-boiling-point'),
    wetBoilingPoint: at(car, 'brake-fluid.wet-boiling-point'),
    flushedOn,
    on: flushedOn === undefined ? undefined : car.event?.endsOn,
  });
};

export const brakeMargin: Reader = (car) =>
  known({ session: brakeHeat(car), fluid: fluid(car), pads: known({ thicknessMm: thinnestPad(car) }) });

const PAD_PLACES = ['FL.in', 'FL.out', 'FR.in', 'FR.out', 'RL.in', 'RL.out', 'RR.in', 'RR.out'] as const;

/** Readings of one pad in sessions, those before a new set left out. */
function readingsOf(car: KnownCar, position: (typeof PAD_PLACES)[number]) {
  const thicknessMm = at(car, 'pad.thickness', position);
  if (typeof thicknessMm !== 'number' || car.event === undefined) return [];
  const part = { position, measured: (read: Pick<EarlierEvent, 'padThicknessMm'>) => read.padThicknessMm[position] };
  const before = (car.earlier ?? []).filter(({ endsOn }) => endsOn < (car.event?.startsOn ?? ''));
  const all = wearReadings(before, part, { thicknessMm, on: car.event.startsOn });
  const set = all.slice(
    Math.max(
      0,
      all.findLastIndex(({ padsChanged }) => padsChanged === true),
    ),
  );
  const perDay = car.sessions?.perDay ?? 1;
  const start = set[0]?.sessions ?? 0;
  return set.map((one) => ({ sessions: (one.sessions - start) * perDay, thicknessMm: one.thicknessMm }));
}

export const padForecast: Reader = (car) => {
  const pads = PAD_PLACES.flatMap((position) => {
    const history = readingsOf(car, position);
    return history.length === 0 ? [] : [{ position, history }];
  });
  return known({ pads, sessionsToCome: car.sessions?.toCome });
};

const leftOf = (readings: readonly { thicknessMm: number }[]): number => readings.at(-1)?.thicknessMm ?? 0;

/** The thinnest pad of each axle: it ends first. */
export const lastSafe: Reader = (car) => {
  const parts = (['F', 'R'] as const).flatMap((axle) => {
    const read = PAD_PLACES.filter((place) => place.startsWith(axle)).map((name) => ({
      name,
      readings: readingsOf(car, name),
    }));
    const measured = read.filter(({ readings }) => readings.length > 0);
    const [thinnest] = measured.toSorted((a, b) => leftOf(a.readings) - leftOf(b.readings));
    return thinnest === undefined ? [] : [{ name: thinnest.name, kind: 'pad', readings: thinnest.readings }];
  });
  return known({ parts, sessionsToCome: car.sessions?.toCome });
};

export const rotorCheck: Reader = (car) => {
  const rotors = WHEELS.flatMap((position) => {
    const axle = position.startsWith('F') ? 'front' : 'rear';
    const material = car.vehicle.rotor?.[axle] ?? 'iron';
    if (material === 'drum') return [];
    const thicknessMm = at(car, 'rotor.thickness', position) ?? at(car, 'rotor.thickness', axle);
    const weightG = at(car, 'rotor.weight', position);
    if (thicknessMm === undefined && weightG === undefined) return [];
    const iron = {
      thicknessMm,
      minimumThicknessMm: car.vehicle.rotorMinimumThicknessMm?.[position],
      cracks: at(car, 'rotor.cracks', position),
    };
    const carbon = {
      weightG,
      minimumWeightG: car.vehicle.rotorMinimumWeightG?.[position],
      edgeChipsMm: at(car, 'rotor.edge-chips', position),
    };
    return [known({ position, material, ...(material === 'iron' ? iron : carbon) })];
  });
  return known({ rotors });
};
