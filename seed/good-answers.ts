import { addDays, addMonths } from '../src/domain/calendar.ts';
import type { Vehicle } from '../src/domain/vehicle.ts';

/** What a good answer depends on: the car, the first event day, and the position (empty for none). */
export interface Subject {
  vehicle: Vehicle;
  startsOn: string;
  position: string;
}

type Good = (subject: Subject) => unknown;
type Wheel = 'FL' | 'FR' | 'RL' | 'RR';

const is =
  (answer: unknown): Good =>
  () =>
    answer;
const yes = is(true);
const no = is(false);
const monthsAgo =
  (months: number): Good =>
  ({ startsOn }) =>
    addMonths(startsOn, -months);
const daysAgo =
  (days: number): Good =>
  ({ startsOn }) =>
    addDays(startsOn, -days);
const full = is({ level: 'ok' });
const stated = (values: Partial<Record<Wheel, number>> | undefined, position: string): number =>
  values?.[position as Wheel] ?? 0;

const ENGINE_AND_DRIVELINE: Readonly<Record<string, Good>> = {
  'oil.grade': is('10W-60'),
  'oil.changed-on': monthsAgo(2),
  'oil.level.reading': is(0.8),
  'oil.level.at-operating-temperature': yes,
  'oil.level.minutes-since-shutdown': is(7),
  'engine.leaks': is('none'),
  'engine.throttle-return': yes,
  'engine.loose-items': yes,
  'engine.catch-tank': yes,
  'battery.secured': yes,
  'battery.positive-covered': yes,
  'fuel.cap-and-lines': yes,
  'fuel.gas': ({ vehicle }) => vehicle.gas ?? 'none',
  'gas.leak': is('none'),
  'gas.tank-valve': is('closes'),
  'gas.test-valid-through': ({ startsOn }) => addMonths(startsOn, 8),
  'gearbox-fluid.changed-on': monthsAgo(5),
  'differential-fluid.changed-on': monthsAgo(5),
  'gearbox-fluid.level': is({ level: 'at-hole' }),
  'differential-fluid.level': is({ level: 'at-hole' }),
  'driveline.boots-and-joints': yes,
  'driveline.bolts': yes,
  'coolant.level': full,
  'coolant.changed-on': monthsAgo(9),
  'coolant.type': is('water-with-additive'),
  'coolant.cap-pressure': is(110),
  'coolant.hoses': yes,
  'radiator.debris': is('clear'),
};

const BRAKES: Readonly<Record<string, Good>> = {
  'brake-fluid.class': is('DOT 4'),
  'brake-fluid.dry-boiling-point': is(312),
  'brake-fluid.wet-boiling-point': is(195),
  'brake-fluid.flushed-on': monthsAgo(1),
  'brake-fluid.level': full,
  'clutch-fluid.class': is('DOT 4'),
  'clutch-fluid.level': full,
  'brake.pedal': is('firm'),
  'brake.parking': is('holds'),
  'brake.lines': yes,
  'brake.lights': yes,
  'pad.thickness': ({ position }) => (position.endsWith('.in') ? 9.4 : 9.8),
  'pad.even': yes,
  'pad.temperature-range': is({ low: 100, high: 700 }),
  'rotor.thickness': ({ vehicle, position }) => stated(vehicle.rotorMinimumThicknessMm, position) + 1.25,
  'rotor.cracks': is('none'),
  'rotor.weight': ({ vehicle, position }) => stated(vehicle.rotorMinimumWeightG, position) + 180,
  'rotor.edge-chips': is(0),
  'lining.thickness': is(3.6),
  'drum.wheel-cylinders': is('dry'),
  'drum.condition': is('sound'),
  'drum.diameter': ({ vehicle, position }) => stated(vehicle.drumMaximumDiameterMm, position) - 0.8,
  'caliper.boots': is('ok'),
  'caliper.seals': is('ok'),
  'caliper.guides': is('ok'),
};

const SUSPENSION_AND_WHEELS: Readonly<Record<string, Good>> = {
  'bushing.condition': is('ok'),
  'bushing.lubricated': yes,
  'bushing.clean': yes,
  'bushing.play': is(0),
  'wheel-play.nine-three': is({ felt: 'none' }),
  'wheel-play.twelve-six': is({ felt: 'none' }),
  'steering.free-play': is({ play: 8, wheelDiameter: 360 }),
  'damper.leak': is('none'),
  'damper.mount-play': is('none'),
  'damper.serviced-on': monthsAgo(8),
  'spring.condition': yes,
  'suspension.fasteners': yes,
  'tyre.kind': is('road'),
  'tyre.axle-marking': is({ same: true, rating: '94Y' }),
  'tyre.tread-lowest': is(4.6),
  'tyre.tread': ({ position }) => (position.endsWith('.inner') ? 4.6 : 5.2),
  'tyre.cords-visible': no,
  'tyre.cuts-or-bulges': no,
  // week 12 of the year before: always in the past, never old
  'tyre.date-code': ({ startsOn }) => `12${addMonths(startsOn, -12).slice(2, 4)}`,
  'tyre.rating': is('94Y'),
  'tyre.cold-pressure': is(205),
  'wheel.cracks': is('none'),
  'wheel.bent': is({ bent: false }),
  'wheel.weights-present': is('present'),
  'wheel.rubber-buildup': is('none'),
  'wheel.clean': yes,
  'wheel.torque-setting': ({ vehicle }) => vehicle.wheelNutTorqueNm,
  'wheel.torque': ({ vehicle }) => vehicle.wheelNutTorqueNm,
  'wheel.fitting': is('as-the-maker-fitted'),
  'wheel.stud-engagement': ({ vehicle }) => ({ length: (vehicle.wheelStudDiameterMm ?? 0) + 3 }),
};

const BODY_AND_PEOPLE: Readonly<Record<string, Good>> = {
  'lamps.warning': is('none'),
  'lights.head-and-tail': yes,
  'body.numbers-displayed': yes,
  'body.panels-secure': yes,
  'body.windscreen': yes,
  'body.mirrors': yes,
  'body.loose-items': yes,
  'body.floor-mats-out': yes,
  'body.cameras-secured': yes,
  'body.tow-eye': yes,
  'exhaust.secure': yes,
  'exhaust.sound-level': is({ level: 89.5, distance: 20, method: 'drive-by' }),
  'rollover.structure': is('roll-bar'),
  'rollover.clearance': is({
    hoopTopX: 0,
    hoopTopZ: 1200,
    frontX: 1100,
    frontZ: 1050,
    helmetTopX: 300,
    helmetTopZ: 1080,
  }),
  'rollover.closed-car': is('roll-cage'),
  'rollover.padding': is('fitted'),
  'arm-restraints': yes,
  'window-net': yes,
  'helmet.standard': is('Snell SA2020'),
  'helmet.made-on': monthsAgo(30),
  clothing: is('fire-suit'),
  eyewear: is('full-face-visor'),
  'belt.condition': is('ok'),
  'harness.standard': is('FIA 8853-2016'),
  'harness.label-kind': is('not-valid-after'),
  'harness.label-date': ({ startsOn }) => `${addMonths(startsOn, 24).slice(0, 4)}-12-31`,
  'harness.angles': is({ shoulder: 12, lap: 60 }),
  'harness.shoulder-fixing': is('harness-bar'),
  'harness.seat-slots': yes,
  'head-restraint.standard': is('FIA 8858-2010'),
  'head-restraint.tether-posts': yes,
  'seat.condition': is('ok'),
  'seat.standard': ({ vehicle }) => (vehicle.restraint === 'harness' ? 'FIA 8855-1999' : 'factory'),
  'seat.made-on': monthsAgo(26),
  'seat.mounts': yes,
  'passenger.equal-restraint': yes,
  'extinguisher.type': is('foam'),
  'extinguisher.mounted': yes,
  'extinguisher.serviced-on': monthsAgo(6),
  'master-switch': yes,
  'fuel-cell.made-on': monthsAgo(20),
};

const ELECTRIC_AND_PAPERS: Readonly<Record<string, Good>> = {
  'hv.damage-or-work': is('none'),
  'hv.isolation': is(620),
  'hv.orange-cables-sound': yes,
  'hv.service-disconnect-marked': yes,
  'hv.status-light': is('works'),
  'hv.responder-card-on-board': yes,
  'twelve-volt.disconnect-marked': yes,
  'hv.faults-none': yes,
  'debrief.symptoms': is([]),
  'full-inspection.done-on': ({ startsOn }) => ({ date: addMonths(startsOn, -3), by: 'Club workshop' }),
  'pre-event-check.done-on': daysAgo(1),
  'car.usage': is({ trackHours: 41.5 }),
  'declaration.true-and-complete': yes,
};

/**
 * The good answer to every item that an entrant answers before an event. Left out: what only the inspector answers,
 * what is known after a session (hot pressures), and the set-up record, which is voluntary.
 */
export const GOOD_ANSWERS: Readonly<Record<string, Good>> = {
  ...ENGINE_AND_DRIVELINE,
  ...BRAKES,
  ...SUSPENSION_AND_WHEELS,
  ...BODY_AND_PEOPLE,
  ...ELECTRIC_AND_PAPERS,
};
