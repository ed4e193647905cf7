import type { DrawingName } from './drawings.ts';

/** Which drawings show what is asked by an item. */
export const DRAWINGS_OF: Readonly<Record<string, readonly DrawingName[]>> = {
  'pad.thickness': ['pad-section'],
  'pad.even': ['pad-section'],
  'lining.thickness': ['lining-section'],
  'oil.level.reading': ['dipstick'],
  'tyre.date-code': ['tyre-date'],
  'tyre.axle-marking': ['tyre-date'],
  'tyre.tread-lowest': ['tread-three', 'wear-bars'],
  'tyre.tread': ['tread-three', 'wear-bars'],
  'tyre.wear-holes': ['wear-holes'],
  'tyre.cords-visible': ['cuts-bulges'],
  'tyre.cuts-or-bulges': ['cuts-bulges'],
  'wheel-play.nine-three': ['play-9-3'],
  'wheel-play.twelve-six': ['play-12-6'],
  'rotor.thickness': ['rotor-thickness'],
  'rotor.cracks': ['rotor-cracks'],
  'rotor.edge-chips': ['carbon-chip'],
  'caliper.boots': ['caliper-boot'],
  'caliper.seals': ['caliper-boot'],
  'driveline.boots-and-joints': ['shaft-boot'],
  'bushing.condition': ['bushing'],
  'harness.standard': ['harness-label'],
  'harness.label-date': ['harness-label'],
  'harness.label-kind': ['harness-label'],
  'battery.secured': ['battery'],
  'battery.positive-covered': ['battery'],
  'body.tow-eye': ['tow-eye'],
  'brake-fluid.level': ['fluid-marks'],
  'clutch-fluid.level': ['fluid-marks'],
  'wheel.torque': ['bolt-order'],
  'wheel.torque-setting': ['bolt-order'],
  'steering.free-play': ['rim-play'],
  'helmet.standard': ['helmet-label'],
  'helmet.made-on': ['helmet-label'],
};

/** What is needed for it. */
export const TOOLS = [
  'tread-gauge',
  'pad-gauge',
  'micrometer',
  'vernier',
  'pressure-gauge',
  'torque-wrench',
  'lamp',
  'stands',
  'ruler',
  'cloth',
  'scales',
  'watch',
] as const;
export type Tool = (typeof TOOLS)[number];

/** What is needed for an item, and how long it takes for the whole car once one is there: minutes. */
export interface Effort {
  tools: readonly Tool[];
  minutes: number;
}

/** By item; a look that takes a moment has none. Common practice, no source. */
export const EFFORTS: Readonly<Record<string, Effort>> = {
  'pad.thickness': { tools: ['stands', 'pad-gauge', 'lamp'], minutes: 4 },
  'pad.even': { tools: ['stands', 'lamp'], minutes: 2 },
  'lining.thickness': { tools: ['stands', 'ruler', 'lamp'], minutes: 10 },
  'rotor.thickness': { tools: ['stands', 'micrometer'], minutes: 4 },
  'drum.diameter': { tools: ['stands', 'vernier'], minutes: 15 },
  'rotor.cracks': { tools: ['stands', 'lamp'], minutes: 3 },
  'rotor.weight': { tools: ['stands', 'scales'], minutes: 40 },
  'rotor.edge-chips': { tools: ['stands', 'ruler', 'lamp'], minutes: 4 },
  'caliper.boots': { tools: ['stands', 'lamp'], minutes: 2 },
  'caliper.seals': { tools: ['stands', 'lamp'], minutes: 4 },
  'caliper.guides': { tools: ['stands'], minutes: 2 },
  'tyre.tread-lowest': { tools: ['tread-gauge'], minutes: 3 },
  'tyre.tread': { tools: ['tread-gauge'], minutes: 5 },
  'tyre.date-code': { tools: ['lamp'], minutes: 3 },
  'tyre.axle-marking': { tools: ['lamp'], minutes: 2 },
  'tyre.rating': { tools: ['lamp'], minutes: 2 },
  'tyre.cold-pressure': { tools: ['pressure-gauge'], minutes: 3 },
  'tyre.hot-pressure': { tools: ['pressure-gauge'], minutes: 2 },
  'wheel-play.nine-three': { tools: ['stands'], minutes: 2 },
  'wheel-play.twelve-six': { tools: ['stands'], minutes: 2 },
  'wheel.torque': { tools: ['torque-wrench'], minutes: 5 },
  'wheel.torque-setting': { tools: ['torque-wrench'], minutes: 5 },
  'wheel.stud-engagement': { tools: ['torque-wrench'], minutes: 5 },
  'driveline.boots-and-joints': { tools: ['stands', 'lamp'], minutes: 3 },
  'bushing.condition': { tools: ['stands', 'lamp'], minutes: 5 },
  'bushing.play': { tools: ['stands', 'lamp'], minutes: 8 },
  'suspension.fasteners': { tools: ['stands', 'torque-wrench', 'lamp'], minutes: 10 },
  'gearbox-fluid.level': { tools: ['stands', 'lamp'], minutes: 10 },
  'differential-fluid.level': { tools: ['stands', 'lamp'], minutes: 10 },
  'steering.free-play': { tools: ['ruler'], minutes: 2 },
  'oil.level.reading': { tools: ['cloth', 'watch'], minutes: 8 },
  'brake-fluid.level': { tools: ['lamp'], minutes: 1 },
  'coolant.level': { tools: ['lamp'], minutes: 1 },
  'engine.leaks': { tools: ['lamp', 'cloth'], minutes: 3 },
  'brake.pedal': { tools: ['watch'], minutes: 1 },
  'setup.corner-weights': { tools: ['scales'], minutes: 30 },
};
