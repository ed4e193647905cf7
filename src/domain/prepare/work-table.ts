/**
 * What must be opened, taken off or gone to for a repair, in the order in which a car is best gone through: what costs nothing
 * first, then one thing after the other, the brakes bled once when all of their work is done, and the wheels tightened last.
 */
export const OPENINGS = [
  'answer',
  'cause',
  'papers',
  'wheels',
  'under',
  'bonnet',
  'bleed',
  'high-voltage',
  'cabin',
  'outside',
  'torque',
] as const;
export type Opening = (typeof OPENINGS)[number];

/** Minutes to open it and to close it again; wheels: an axle onto stands and back. Common practice, no source. */
export const OPEN_MINUTES: Readonly<Record<Opening, number>> = {
  answer: 0,
  cause: 0,
  papers: 0,
  wheels: 20,
  under: 15,
  bonnet: 2,
  bleed: 10,
  'high-voltage': 30,
  cabin: 2,
  outside: 0,
  torque: 0,
};

/** How many days a part or an appointment is mostly waited for, where it is not on the shelf. Common practice, no source. */
export const PART_DAYS = {
  pads: 4,
  rotors: 5,
  'caliper-kit': 7,
  linings: 5,
  'brake-fluid': 2,
  'brake-line': 4,
  'wheel-bearing': 4,
  'steering-joint': 5,
  'boot-kit': 4,
  bushings: 7,
  damper: 10,
  spring: 7,
  tyres: 5,
  wheel: 10,
  studs: 4,
  hose: 3,
  'engine-seal': 5,
  fluids: 1,
  'battery-clamp': 3,
  'body-part': 7,
  'exhaust-part': 6,
  'roll-padding': 5,
  'window-net': 7,
  helmet: 5,
  clothing: 4,
  harness: 7,
  seat: 10,
  extinguisher: 5,
  workshop: 7,
  bulb: 1,
  'hv-workshop': 10,
} as const;
export type Part = keyof typeof PART_DAYS;

/** A repair as it is done in one go: findings that end in the same repair are one job. */
export interface Work {
  /** its name: jobs of one name at one place are done once */
  job: string;
  opening: Opening;
  /** for each place it is done at, without the opening. Common practice, no source */
  minutes: number;
  /** done on both wheels of the axle, whichever of them asked for it */
  pair?: true;
  /** what it may need */
  part?: Part;
  /** brake fluid comes out: the brakes are bled afterwards */
  bleeds?: true;
}

/** Common practice, no source. By the beginning of the key of the item that a finding is about; the longest one counts. */
const WORKS: Readonly<Record<string, Work>> = {
  'declaration.': { job: 'answer', opening: 'answer', minutes: 1 },
  'debrief.': { job: 'cause', opening: 'cause', minutes: 30 },
  'wheel-play.': { job: 'wheel-bearing', opening: 'wheels', minutes: 90, part: 'wheel-bearing' },
  'damper.': { job: 'damper', opening: 'wheels', minutes: 60, pair: true, part: 'damper' },
  'spring.': { job: 'spring', opening: 'wheels', minutes: 60, pair: true, part: 'spring' },
  'driveline.boots-and-joints': { job: 'driveshaft', opening: 'wheels', minutes: 75, part: 'boot-kit' },
  'caliper.': { job: 'caliper', opening: 'wheels', minutes: 60, part: 'caliper-kit', bleeds: true },
  'caliper.guides': { job: 'guides', opening: 'wheels', minutes: 30, part: 'caliper-kit' },
  'rotor.': { job: 'rotors', opening: 'wheels', minutes: 25, pair: true, part: 'rotors' },
  'pad.': { job: 'pads', opening: 'wheels', minutes: 15, pair: true, part: 'pads' },
  'lining.': { job: 'linings', opening: 'wheels', minutes: 45, pair: true, part: 'linings' },
  'drum.': { job: 'drums', opening: 'wheels', minutes: 45, pair: true, part: 'linings' },
  'drum.wheel-cylinders': {
    job: 'wheel-cylinders',
    opening: 'wheels',
    minutes: 45,
    pair: true,
    part: 'linings',
    bleeds: true,
  },
  'tyre.': { job: 'tyres', opening: 'wheels', minutes: 15, pair: true, part: 'tyres' },
  'tyre.cold-pressure': { job: 'pressures', opening: 'outside', minutes: 2 },
  'tyre.hot-pressure': { job: 'pressures', opening: 'outside', minutes: 2 },
  'wheel.cracks': { job: 'wheel', opening: 'wheels', minutes: 15, part: 'wheel' },
  'wheel.bent': { job: 'wheel', opening: 'wheels', minutes: 15, part: 'wheel' },
  'wheel.weights-present': { job: 'weights', opening: 'wheels', minutes: 15 },
  'wheel.clean': { job: 'wash', opening: 'outside', minutes: 5 },
  'wheel.rubber-buildup': { job: 'wash', opening: 'outside', minutes: 5 },
  'wheel.stud-engagement': { job: 'studs', opening: 'wheels', minutes: 30, part: 'studs' },
  'wheel.fitting': { job: 'studs', opening: 'wheels', minutes: 10, part: 'studs' },
  'wheel.torque': { job: 'torque', opening: 'torque', minutes: 10 },
  'bushing.': { job: 'bushings', opening: 'under', minutes: 90, part: 'bushings' },
  'suspension.': { job: 'fasteners', opening: 'under', minutes: 20 },
  'steering.': { job: 'steering', opening: 'under', minutes: 60, part: 'steering-joint' },
  'driveline.': { job: 'driveline-bolts', opening: 'under', minutes: 15 },
  'gearbox-fluid.': { job: 'gear-oil', opening: 'under', minutes: 30, part: 'fluids' },
  'differential-fluid.': { job: 'gear-oil', opening: 'under', minutes: 30, part: 'fluids' },
  'exhaust.': { job: 'exhaust', opening: 'under', minutes: 60, part: 'exhaust-part' },
  'fuel-cell.': { job: 'fuel-cell', opening: 'under', minutes: 240, part: 'workshop' },
  'engine.leaks': { job: 'leak', opening: 'bonnet', minutes: 120, part: 'engine-seal' },
  'engine.weep-reaches': { job: 'leak', opening: 'bonnet', minutes: 120, part: 'engine-seal' },
  'engine.': { job: 'engine-bay', opening: 'bonnet', minutes: 20 },
  'oil.': { job: 'oil', opening: 'bonnet', minutes: 10, part: 'fluids' },
  'battery.': { job: 'battery', opening: 'bonnet', minutes: 20, part: 'battery-clamp' },
  'gas.': { job: 'gas-system', opening: 'papers', minutes: 10, part: 'workshop' },
  'fuel.gas': { job: 'gas-system', opening: 'papers', minutes: 10, part: 'workshop' },
  'lamps.': { job: 'warning-lamp', opening: 'cabin', minutes: 30, part: 'workshop' },
  'lights.': { job: 'lights', opening: 'outside', minutes: 20, part: 'bulb' },
  'fuel.': { job: 'fuel-lines', opening: 'bonnet', minutes: 45, part: 'hose' },
  'coolant.': { job: 'coolant', opening: 'bonnet', minutes: 30, part: 'fluids' },
  'coolant.hoses': { job: 'coolant-hoses', opening: 'bonnet', minutes: 45, part: 'hose' },
  'radiator.': { job: 'radiator', opening: 'bonnet', minutes: 20 },
  'brake.lines': { job: 'brake-lines', opening: 'under', minutes: 60, part: 'brake-line', bleeds: true },
  'brake.parking': { job: 'parking-brake', opening: 'under', minutes: 60, part: 'workshop' },
  'brake.lights': { job: 'brake-lights', opening: 'cabin', minutes: 15, part: 'bulb' },
  'brake.pedal': { job: 'bleed', opening: 'bleed', minutes: 45, part: 'brake-fluid' },
  'brake-fluid.': { job: 'bleed', opening: 'bleed', minutes: 45, part: 'brake-fluid' },
  'clutch-fluid.': { job: 'bleed-clutch', opening: 'bleed', minutes: 20, part: 'brake-fluid' },
  'hv.': { job: 'high-voltage', opening: 'high-voltage', minutes: 120, part: 'hv-workshop' },
  'twelve-volt.': { job: 'marks', opening: 'outside', minutes: 5 },
  'rollover.': { job: 'roll-structure', opening: 'cabin', minutes: 60, part: 'workshop' },
  'rollover.padding': { job: 'roll-padding', opening: 'cabin', minutes: 20, part: 'roll-padding' },
  'arm-restraints': { job: 'nets', opening: 'cabin', minutes: 20, part: 'window-net' },
  'window-net': { job: 'nets', opening: 'cabin', minutes: 20, part: 'window-net' },
  'harness.': { job: 'harness', opening: 'cabin', minutes: 60, part: 'harness' },
  'belt.': { job: 'harness', opening: 'cabin', minutes: 60, part: 'harness' },
  'passenger.': { job: 'harness', opening: 'cabin', minutes: 60, part: 'harness' },
  'seat.': { job: 'seat', opening: 'cabin', minutes: 60, part: 'seat' },
  'seat.mounts': { job: 'seat-bolts', opening: 'cabin', minutes: 15 },
  'extinguisher.': { job: 'extinguisher', opening: 'cabin', minutes: 20, part: 'extinguisher' },
  'master-switch': { job: 'master-switch', opening: 'cabin', minutes: 30, part: 'workshop' },
  'body.': { job: 'tidy', opening: 'outside', minutes: 10 },
  'body.loose-items': { job: 'cabin-tidy', opening: 'cabin', minutes: 5 },
  'body.floor-mats-out': { job: 'cabin-tidy', opening: 'cabin', minutes: 5 },
  'body.windscreen': { job: 'body-part', opening: 'outside', minutes: 60, part: 'body-part' },
  'body.mirrors': { job: 'body-part', opening: 'outside', minutes: 20, part: 'body-part' },
  'body.panels-secure': { job: 'panels', opening: 'outside', minutes: 20 },
  'helmet.': { job: 'helmet', opening: 'papers', minutes: 5, part: 'helmet' },
  'head-restraint.': { job: 'helmet', opening: 'papers', minutes: 5, part: 'helmet' },
  clothing: { job: 'clothing', opening: 'papers', minutes: 5, part: 'clothing' },
  eyewear: { job: 'clothing', opening: 'papers', minutes: 5, part: 'clothing' },
  'full-inspection.': { job: 'inspection', opening: 'papers', minutes: 10, part: 'workshop' },
  'pre-event-check.': { job: 'walk-round', opening: 'outside', minutes: 30 },
};

/** What is done along the way by a repair at the same place: nothing is left to do of it afterwards. Common practice, no source. */
export const JOBS_ALSO_DONE: Readonly<Record<string, readonly string[]>> = {
  caliper: ['guides'],
  tyres: ['weights'],
  wheel: ['weights'],
  'coolant-hoses': ['coolant'],
  seat: ['seat-bolts'],
};

const ELSE: Work = { job: 'other', opening: 'outside', minutes: 15 };
const BY_LENGTH = Object.keys(WORKS).toSorted((a, b) => b.length - a.length);

/** The repair that an item ends in where it is not as it must be; an item that nobody thought of is looked at on the outside. */
export function workOf(item: string): Work {
  const known = BY_LENGTH.find((start) => item.startsWith(start));
  return known === undefined ? ELSE : (WORKS[known] ?? ELSE);
}

/** Of the jobs at one place, the one that takes most apart comes first: what is fitted on top goes on once. */
export const JOB_ORDER: readonly string[] = [...new Set(Object.values(WORKS).map(({ job }) => job)), ELSE.job];
