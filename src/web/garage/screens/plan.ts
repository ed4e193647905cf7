import type { FormItem } from '../kept/asked.ts';

export const PARTS = ['papers', 'outside', 'wheels', 'driver'] as const;
/** Papers; outside, engine and cabin; wheels off; the driver, and sending. */
export type Part = (typeof PARTS)[number];

/** One subject: what is looked at or read at one place of the car, with one tool in hand. */
export interface Screen {
  id: string;
  part: Part;
  items: readonly string[];
}

/** In the order of a walk that opens each thing once: papers at home, bonnet and cabin, then the wheels, torque last. */
const SCREENS: readonly Screen[] = [
  {
    id: 'brake-fluid',
    part: 'papers',
    items: [
      'brake-fluid.class',
      'brake-fluid.wet-boiling-point',
      'brake-fluid.dry-boiling-point',
      'brake-fluid.flushed-on',
    ],
  },
  { id: 'clutch', part: 'papers', items: ['clutch-fluid.class'] },
  {
    id: 'gear',
    part: 'papers',
    items: ['helmet.standard', 'helmet.made-on', 'head-restraint.standard', 'head-restraint.tether-posts'],
  },
  { id: 'clothing', part: 'papers', items: ['clothing', 'eyewear'] },
  {
    id: 'harness',
    part: 'papers',
    items: [
      'harness.standard',
      'harness.label-kind',
      'harness.label-date',
      'harness.angles',
      'harness.shoulder-fixing',
      'harness.seat-slots',
      'seat.standard',
      'seat.made-on',
    ],
  },
  {
    id: 'extinguisher',
    part: 'papers',
    items: ['extinguisher.type', 'extinguisher.serviced-on', 'extinguisher.mounted', 'fuel-cell.made-on'],
  },
  { id: 'papers', part: 'papers', items: ['full-inspection.done-on', 'pre-event-check.done-on'] },
  {
    id: 'body',
    part: 'outside',
    items: [
      'body.numbers-displayed',
      'body.panels-secure',
      'body.windscreen',
      'body.mirrors',
      'lights.head-and-tail',
      'body.tow-eye',
      'exhaust.secure',
      'master-switch',
    ],
  },
  { id: 'sound', part: 'outside', items: ['exhaust.sound-level'] },
  { id: 'leaks', part: 'outside', items: ['engine.leaks', 'engine.weep-reaches'] },
  {
    id: 'engine',
    part: 'outside',
    items: [
      'engine.throttle-return',
      'engine.loose-items',
      'engine.catch-tank',
      'battery.secured',
      'battery.positive-covered',
      'fuel.cap-and-lines',
      'fuel.gas',
      'gas.leak',
      'gas.tank-valve',
      'gas.test-valid-through',
    ],
  },
  {
    id: 'oil',
    part: 'outside',
    items: ['oil.level.at-operating-temperature', 'oil.level.reading', 'oil.level.minutes-since-shutdown', 'oil.grade'],
  },
  {
    id: 'levels',
    part: 'outside',
    items: [
      'coolant.level',
      'brake-fluid.level',
      'clutch-fluid.level',
      'coolant.hoses',
      'radiator.debris',
      'coolant.type',
    ],
  },
  {
    id: 'cabin',
    part: 'outside',
    items: [
      'lamps.warning',
      'belt.condition',
      'seat.mounts',
      'seat.condition',
      'body.loose-items',
      'body.floor-mats-out',
      'body.cameras-secured',
      'passenger.equal-restraint',
      'window-net',
      'arm-restraints',
    ],
  },
  {
    id: 'roll',
    part: 'outside',
    items: ['rollover.structure', 'rollover.closed-car', 'rollover.clearance', 'rollover.padding'],
  },
  {
    id: 'pedal',
    part: 'outside',
    items: ['brake.pedal', 'brake.parking', 'brake.lights', 'brake.lines', 'steering.free-play'],
  },
  { id: 'tyres', part: 'wheels', items: ['tyre.cords-visible', 'tyre.cuts-or-bulges', 'tyre.kind', 'tyre.wear-holes'] },
  { id: 'tread', part: 'wheels', items: ['tyre.tread-lowest', 'tyre.tread', 'tyre.new-since-last'] },
  { id: 'tyre-marks', part: 'wheels', items: ['tyre.axle-marking', 'tyre.date-code', 'tyre.rating'] },
  { id: 'pressures', part: 'wheels', items: ['tyre.cold-pressure'] },
  {
    id: 'wheels',
    part: 'wheels',
    items: ['wheel.cracks', 'wheel.bent', 'wheel.weights-present', 'wheel.clean', 'wheel.fitting'],
  },
  { id: 'play', part: 'wheels', items: ['wheel-play.nine-three', 'wheel-play.twelve-six'] },
  { id: 'pads', part: 'wheels', items: ['pad.thickness', 'pad.even', 'pad.new-since-last', 'pad.temperature-range'] },
  { id: 'linings', part: 'wheels', items: ['lining.thickness'] },
  {
    id: 'rotors',
    part: 'wheels',
    items: [
      'rotor.cracks',
      'drum.condition',
      'drum.wheel-cylinders',
      'rotor.thickness',
      'rotor.weight',
      'rotor.edge-chips',
      'drum.diameter',
    ],
  },
  { id: 'calipers', part: 'wheels', items: ['caliper.boots', 'caliper.seals', 'caliper.guides'] },
  {
    id: 'underneath',
    part: 'wheels',
    items: [
      'driveline.boots-and-joints',
      'driveline.bolts',
      'suspension.fasteners',
      'spring.condition',
      'damper.leak',
      'damper.mount-play',
      'bushing.condition',
      'bushing.lubricated',
      'bushing.clean',
      'bushing.play',
      'damper.serviced-on',
    ],
  },
  { id: 'gearbox', part: 'wheels', items: ['gearbox-fluid.level', 'differential-fluid.level'] },
  { id: 'torque', part: 'wheels', items: ['wheel.torque-setting', 'wheel.torque', 'wheel.stud-engagement'] },
  { id: 'felt', part: 'driver', items: ['debrief.symptoms'] },
];

/** What is seen from below. */
export const UNDERSIDE: readonly string[] = ['underneath', 'gearbox'];
/** What needs the car off the ground, in the order of the work: on the workshop's sheet. */
export const LIFTED: readonly string[] = ['play', 'pads', 'linings', 'rotors', 'calipers', ...UNDERSIDE];

const PART_OF_AREA: Readonly<Record<string, Part>> = {
  papers: 'papers',
  'wheels-tyres': 'wheels',
  'brake-hardware': 'wheels',
  'suspension-steering': 'wheels',
  driveline: 'wheels',
  setup: 'driver',
};

/** What is sent with the answers, beside the button that sends them. */
export const DECLARES = 'declaration.true-and-complete';

/** A screen with the items that stand on it for this car: first what is asked, then what is optional. */
export interface ShownScreen extends Omit<Screen, 'items'> {
  asked: readonly FormItem[];
  optional: readonly FormItem[];
}

/** Items that no screen names have one for their area: nothing that is asked is without a place. */
function screenOf(item: FormItem): Screen | undefined {
  return SCREENS.find(({ items }) => items.some((key) => key === item.key || item.key.startsWith(`${key}.`)));
}

const rank = ({ items }: Screen, item: FormItem): number => {
  const at = items.indexOf(item.key);
  return at < 0 ? items.length : at;
};

/** The screens of this car in their order; a screen without a question that is asked stands at the end of its part, folded. */
export function screensOf(items: readonly FormItem[], isAsked: (key: string) => boolean): ShownScreen[] {
  const known = new Map<string, { screen: Screen; items: FormItem[] }>();
  for (const item of items) {
    if (item.key === DECLARES) continue;
    const felt = item.key.startsWith('debrief.') ? SCREENS.find(({ id }) => id === 'felt') : undefined;
    const screen = felt ?? screenOf(item) ?? { id: item.area, part: PART_OF_AREA[item.area] ?? 'outside', items: [] };
    const of = known.get(screen.id) ?? { screen, items: [] };
    known.set(screen.id, { screen, items: [...of.items, item] });
  }
  const order = SCREENS.map(({ id }) => id);
  const place = (id: string): number => (order.includes(id) ? order.indexOf(id) : order.length);
  return [...known.values()]
    .toSorted(
      (a, b) => PARTS.indexOf(a.screen.part) - PARTS.indexOf(b.screen.part) || place(a.screen.id) - place(b.screen.id),
    )
    .map(({ screen, items: own }) => {
      const sorted = own.toSorted((a, b) => rank(screen, a) - rank(screen, b));
      return {
        id: screen.id,
        part: screen.part,
        asked: sorted.filter(({ key }) => isAsked(key)),
        optional: sorted.filter(({ key }) => !isAsked(key)),
      };
    });
}

/** Facts of a car that decide which questions are asked, by their paths. Where the record lacks one, what hangs on it is asked. */
export const DECIDING: readonly string[] = [
  'body',
  'powertrain',
  'oilLevelMethod',
  'gearbox',
  'sump',
  'restraint',
  'cooling',
  'wheelFastening',
  'rotor.front',
  'rotor.rear',
  'bushing.front-lower-arm',
  'bushing.rear-lower-arm',
  'damper.rebuildable',
  'hydraulicClutch',
  'separateDifferential',
  'fuelCell',
];
