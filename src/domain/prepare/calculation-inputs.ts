import { isPlainDate } from '../calendar.ts';
import { WHEELS } from '../catalogue/item.ts';
import type { AnswerValue } from '../declaration/declaration.ts';
import { HOT_TYRE_AIR_C } from '../facts/tyres.ts';
import {
  at,
  brakeHeat,
  brakeMargin,
  known,
  type KnownCar,
  lastSafe,
  padForecast,
  type Part,
  type Reader,
  rotorCheck,
} from './known-brakes.ts';

/** What a computation can be begun with: what of its body is known. Places are as in its body, numbers in its units. */
export type KnownInputs = Readonly<Record<string, Readonly<Record<string, unknown>>>>;

const eachWheel = (of: (wheel: (typeof WHEELS)[number]) => unknown): Part =>
  known(Object.fromEntries(WHEELS.map((wheel) => [wheel, of(wheel)])));

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
