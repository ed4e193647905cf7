import { isPlainDate, type PlainDate } from '../calendar.ts';
import { WHEELS } from '../catalogue/item.ts';
import { type Answers, type AnswerValue, cellKey } from '../declaration/declaration.ts';
import type { EarlierEvent } from '../facts/fact.ts';
import { HOT_TYRE_AIR_C } from '../facts/tyres.ts';
import { padReadings } from '../facts/wear.ts';
import type { VenueFacts } from '../rules/model/rule-set.ts';
import type { Vehicle } from '../vehicle.ts';

/** What a computation can be begun with: what of its body is known. Places are as in its body, numbers in its units. */
export type KnownInputs = Readonly<Record<string, Readonly<Record<string, unknown>>>>;

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
type Part = Readonly<Record<string, unknown>>;
type Reader = (car: KnownCar) => Part;

const at = ({ answers }: KnownCar, key: string, position?: string, field?: string): AnswerValue | undefined =>
  answers?.get(cellKey(key, position, field));

/** Without places that hold nothing. */
function known(part: Part): Part {
  return Object.fromEntries(
    Object.entries(part).filter(([, value]) => {
      if (value === undefined) return false;
      return typeof value !== 'object' || value === null || Object.keys(value).length > 0;
    }),
  );
}

const eachWheel = (of: (wheel: (typeof WHEELS)[number]) => unknown): Part =>
  known(Object.fromEntries(WHEELS.map((wheel) => [wheel, of(wheel)])));

const brakeHeat: Reader = ({ vehicle, venue }) => {
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
    frontWeightShare: front === undefined || rear === undefined ? undefined : front / (front + rear),
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

const brakeMargin: Reader = (car) =>
  known({ session: brakeHeat(car), fluid: fluid(car), pads: known({ thicknessMm: thinnestPad(car) }) });

const PAD_PLACES = ['FL.in', 'FL.out', 'FR.in', 'FR.out', 'RL.in', 'RL.out', 'RR.in', 'RR.out'] as const;

/** Readings of one pad in sessions, those before a new set left out. */
function readingsOf(car: KnownCar, position: (typeof PAD_PLACES)[number]) {
  const thicknessMm = at(car, 'pad.thickness', position);
  if (typeof thicknessMm !== 'number' || car.event === undefined) return [];
  const part = { position, measured: (pads: EarlierEvent['padThicknessMm']) => pads[position] };
  const before = (car.earlier ?? []).filter(({ endsOn }) => endsOn < (car.event?.startsOn ?? ''));
  const all = padReadings(before, part, { thicknessMm, on: car.event.startsOn });
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

const padForecast: Reader = (car) => {
  const pads = PAD_PLACES.flatMap((position) => {
    const history = readingsOf(car, position).map((one) => ({ thicknessMm: one.thicknessMm, sessions: one.sessions }));
    return history.length === 0 ? [] : [{ position, history }];
  });
  return known({ pads, sessionsToCome: car.sessions?.toCome });
};

const leftOf = (readings: readonly { thicknessMm: number }[]): number => readings.at(-1)?.thicknessMm ?? 0;

/** The thinnest pad of each axle: it ends first. */
const lastSafe: Reader = (car) => {
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

const rotorCheck: Reader = (car) => {
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

/** The code that most tells of: the oldest tyre is not known before it is worked out, so the first that was read. */
const tyreAge: Reader = (car) =>
  known({
    code: WHEELS.map((wheel) => at(car, 'tyre.date-code', wheel)).find((code) => code !== undefined),
    onDay: car.event?.endsOn,
  });

const tyrePressure: Reader = (car) => {
  const cold = WHEELS.map((wheel) => at(car, 'tyre.cold-pressure', wheel)).find((kpa) => kpa !== undefined);
  return known({
    coldKpa: cold ?? car.vehicle.coldPressurePlacardKpa?.front,
    coldC: car.venue?.designAirTemperatureC,
    hotC: car.event === undefined ? undefined : HOT_TYRE_AIR_C,
  });
};

const tyreRating: Reader = (car) => {
  const wheel = WHEELS.map((one) => at(car, 'tyre.rating', one)).find((rating) => rating !== undefined);
  const speeds = [car.vehicle.topSpeedKmh, car.venue?.topSpeedKmh].filter((kmh) => kmh !== undefined);
  return known({
    rating: wheel ?? at(car, 'tyre.axle-marking', 'front', 'rating'),
    axleLoadKg: car.vehicle.axleLoadKg?.front,
    topSpeedKmh: speeds.length === 0 ? undefined : Math.min(...speeds),
    carKg: car.vehicle.massKg,
  });
};

const fluidClass: Reader = (car) => {
  const point = (c: AnswerValue | undefined): Part | undefined => (c === undefined ? undefined : { c });
  const dry = point(at(car, 'brake-fluid.dry-boiling-point'));
  const wet = point(at(car, 'brake-fluid.wet-boiling-point'));
  return known({
    fluidClass: at(car, 'brake-fluid.class'),
    label: known({ dry, wet }),
    measuredC: at(car, 'brake-fluid.measured-boiling-point'),
  });
};

const GLYCOL: Readonly<Record<string, string>> = {
  water: 'none',
  'water-with-additive': 'none',
  'ethylene-glycol-mix': 'ethylene',
  'propylene-glycol-mix': 'propylene',
};

const coolant: Reader = (car) => {
  const type = at(car, 'coolant.type');
  return known({
    capKpa: at(car, 'coolant.cap-pressure'),
    glycol: typeof type === 'string' ? GLYCOL[type] : undefined,
  });
};

const SERVICES = {
  'oil.changed-on': 'engine-oil',
  'brake-fluid.flushed-on': 'brake-fluid',
  'gearbox-fluid.changed-on': 'gearbox-fluid',
  'differential-fluid.changed-on': 'differential-fluid',
  'coolant.changed-on': 'coolant',
  'damper.serviced-on': 'damper',
  'extinguisher.serviced-on': 'extinguisher',
} as const;

const serviceDue: Reader = (car) => {
  const services = Object.entries(SERVICES).flatMap(([item, kind]) => {
    const doneOn = at(car, item);
    if (typeof doneOn !== 'string' || !isPlainDate(doneOn)) return [];
    return [known({ kind, doneOn, damperUse: kind === 'damper' ? car.vehicle.damper?.use : undefined })];
  });
  return known({ onDay: car.event?.endsOn, services });
};

const labelValidity: Reader = (car) => {
  const made = at(car, 'helmet.made-on');
  const standard = at(car, 'helmet.standard');
  const labels = made === undefined || standard === undefined ? [] : [{ label: standard, madeOn: made }];
  return known({ labels, onDay: car.event?.endsOn });
};

/** The first wheel at which something was felt. */
const playDiagnosis: Reader = (car) => {
  const felt = (item: string, wheel: string) => at(car, `wheel-play.${item}`, wheel, 'felt');
  const wheel = WHEELS.find((one) => [felt('nine-three', one), felt('twelve-six', one)].includes('felt'));
  if (wheel === undefined) return {};
  return known({
    nineThree: felt('nine-three', wheel),
    twelveSix: felt('twelve-six', wheel),
    axle: wheel.startsWith('F') ? 'front' : 'rear',
  });
};

const cornerWeights: Reader = (car) => {
  const own = eachWheel((wheel) => at(car, 'setup.corner-weights', wheel));
  return known({ ...own, recordedMassKg: car.vehicle.massKg });
};

const alignment: Reader = (car) => {
  const { baseline } = car.vehicle;
  const measured = (wheel: string, field: string) => at(car, 'setup.alignment', wheel, field);
  return known({
    measured: eachWheel((wheel) =>
      known({
        camberDeg: measured(wheel, 'camber'),
        toeMm: measured(wheel, 'toe'),
        casterDeg: measured(wheel, 'caster'),
      }),
    ),
    baseline: eachWheel((wheel) =>
      known({
        camberDeg: baseline?.camberDeg?.[wheel],
        toeMm: baseline?.toeMm?.[wheel],
        casterDeg: baseline?.casterDeg?.[wheel],
      }),
    ),
  });
};

const fastener: Reader = (car) => {
  const { wheelStudDiameterMm, wheelThreadPitchMm, wheelNutTorqueNm } = car.vehicle;
  const isThread = wheelStudDiameterMm !== undefined && wheelThreadPitchMm !== undefined;
  return known({
    thread: isThread ? `M${wheelStudDiameterMm}x${wheelThreadPitchMm}` : undefined,
    torqueNm: wheelNutTorqueNm,
    engagedMm: at(car, 'wheel.stud-engagement', undefined, 'length'),
    turns: at(car, 'wheel.stud-engagement', undefined, 'turns'),
  });
};

const sound: Reader = (car) =>
  known({
    level: at(car, 'exhaust.sound-level', undefined, 'level'),
    distance: at(car, 'exhaust.sound-level', undefined, 'distance'),
    method: at(car, 'exhaust.sound-level', undefined, 'method'),
    referenceDistance: car.venue?.soundDistanceM,
    limit: car.venue?.soundLimitDb,
  });

const rollClearance: Reader = (car) => {
  const point = (name: string): Part =>
    known({
      x: at(car, 'rollover.clearance', undefined, `${name}X`),
      z: at(car, 'rollover.clearance', undefined, `${name}Z`),
    });
  return known({ hoopTop: point('hoopTop'), front: point('front'), helmetTop: point('helmetTop') });
};

const READERS: Readonly<Record<string, Reader>> = {
  'brake-heat': brakeHeat,
  'brake-margin': brakeMargin,
  'pad-forecast': padForecast,
  'last-safe-session': lastSafe,
  'rotor-check': rotorCheck,
  'tyre-age': tyreAge,
  'tyre-pressure': tyrePressure,
  'tyre-rating': tyreRating,
  'fluid-class': fluidClass,
  'engine-oil-grade': (car) => known({ grade: at(car, 'oil.grade') }),
  'oil-level': (car) =>
    known({
      reading: at(car, 'oil.level.reading'),
      atOperatingTemperature: at(car, 'oil.level.at-operating-temperature'),
      minutesSinceShutdown: at(car, 'oil.level.minutes-since-shutdown'),
      sump: car.vehicle.sump,
      fromMinutes: car.vehicle.oilReadFromMinutes,
      toMinutes: car.vehicle.oilReadToMinutes,
    }),
  coolant,
  'service-due': serviceDue,
  'label-validity': labelValidity,
  'play-diagnosis': playDiagnosis,
  'steering-play': (car) =>
    known({
      wheelDiameter: at(car, 'steering.free-play', undefined, 'wheelDiameter'),
      play: at(car, 'steering.free-play', undefined, 'play'),
    }),
  'symptom-triage': (car) => known({ symptoms: at(car, 'debrief.symptoms') }),
  'corner-weights': cornerWeights,
  'alignment-compare': alignment,
  'fastener-torque': fastener,
  'sound-level': sound,
  'roll-clearance': rollClearance,
  'hv-isolation': (car) => known({ workingVoltage: car.vehicle.highVoltageV }),
};

/**
 * What of the body of each computation is known of a car, its answers and the venue. A computation of which nothing is known is
 * not there.
 *
 * @returns by the name of the computation, in the units that its body has without one; never throws
 * @see the fields of the computations; no value is assumed
 */
export function calculationInputs(car: KnownCar): KnownInputs {
  return Object.fromEntries(
    Object.entries(READERS).flatMap(([name, read]) => {
      const part = read(car);
      return Object.keys(part).length === 0 ? [] : [[name, part]];
    }),
  );
}
