/** What the bench judges: tables that the rule set and the hand-written closures are both made from. */
export type Scheme = 'car' | 'wheel' | 'wheel-side' | 'wheel-zone' | 'axle' | 'strap' | 'bushing' | 'fluid';
type Json = Record<string, unknown>;

export const CONFIRMED = (
  'engine.throttle-return engine.loose-items engine.catch-tank battery.secured battery.positive-covered ' +
  'fuel.cap-and-lines brake.lines brake.lights driveline.boots-and-joints driveline.bolts spring.condition ' +
  'suspension.fasteners coolant.hoses body.numbers-displayed body.panels-secure body.windscreen body.mirrors ' +
  'body.loose-items body.floor-mats-out body.cameras-secured body.tow-eye exhaust.secure seat.mounts ' +
  'passenger.equal-restraint extinguisher.mounted master-switch declaration.true-and-complete'
).split(' ');

export interface Choice {
  item: string;
  accepted: readonly string[];
  scheme: Scheme;
  negate?: boolean;
}
const choice = (item: string, scheme: Scheme, ...accepted: string[]): Choice => ({ item, accepted, scheme });
const not = (item: string, scheme: Scheme, ...accepted: string[]): Choice => ({ item, accepted, scheme, negate: true });

export const CHOICES: readonly Choice[] = [
  choice('brake.pedal', 'car', 'firm'),
  choice('radiator.debris', 'car', 'clear', 'some'),
  choice('clothing', 'car', 'fire-suit', 'long-natural-fibre'),
  choice('eyewear', 'car', 'full-face-visor', 'goggles'),
  choice('belt.condition', 'car', 'ok'),
  choice('extinguisher.type', 'car', 'foam', 'gas', 'plumbed-in'),
  choice('head-restraint.standard', 'car', 'FIA 8858-2010', 'SFI 38.1'),
  choice('seat.standard', 'car', 'factory', 'FIA 8855-2021'),
  choice('helmet.standard', 'car', 'Snell SA2020', 'Snell SA2025', 'FIA 8859-2015'),
  choice('brake-fluid.class', 'car', 'DOT 4', 'DOT 5.1', 'ISO 4', 'ISO 5-1', 'ISO 6'),
  choice('coolant.type', 'car', 'water', 'water-with-additive'),
  choice('engine.leaks', 'fluid', 'none', 'weep'),
  choice('bushing.condition', 'bushing', 'ok', 'perished'),
  choice('caliper.boots', 'wheel', 'ok', 'burnt'),
  choice('caliper.seals', 'wheel', 'ok'),
  choice('damper.leak', 'wheel', 'none', 'weep'),
  choice('damper.mount-play', 'wheel', 'none'),
  choice('wheel.cracks', 'wheel', 'none'),
  choice('wheel.weights-present', 'wheel', 'present', 'none-used'),
  choice('wheel.rubber-buildup', 'wheel', 'none', 'some'),
  not('brake.pedal', 'car', 'sinks'),
  not('radiator.debris', 'car', 'blocked'),
  not('brake-fluid.class', 'car', 'DOT 5', 'unknown'),
  not('helmet.standard', 'car', 'other', 'unknown'),
  not('engine.leaks', 'fluid', 'drip'),
  not('caliper.boots', 'wheel', 'torn', 'leaking'),
  not('damper.leak', 'wheel', 'leak'),
  not('wheel.weights-present', 'wheel', 'lost'),
];

export interface Limited {
  item: string;
  field?: string;
  scheme: Scheme;
  atLeast: boolean;
  limit: number;
  unit: string;
  parameter?: string;
}
export const LIMITED: readonly Limited[] = [
  { item: 'pad.thickness', scheme: 'wheel-side', atLeast: true, limit: 5, unit: 'mm', parameter: 'padMinimum' },
  { item: 'pad.thickness', scheme: 'wheel-side', atLeast: true, limit: 7, unit: 'mm' },
  { item: 'tyre.tread', scheme: 'wheel-zone', atLeast: true, limit: 1.6, unit: 'mm', parameter: 'treadMinimum' },
  { item: 'tyre.tread', scheme: 'wheel-zone', atLeast: true, limit: 2.5, unit: 'mm' },
  {
    item: 'brake-fluid.wet-boiling-point',
    scheme: 'car',
    atLeast: true,
    limit: 155,
    unit: '°C',
    parameter: 'wetMinimum',
  },
  { item: 'brake-fluid.dry-boiling-point', scheme: 'car', atLeast: true, limit: 230, unit: '°C' },
  { item: 'wheel.torque', scheme: 'wheel', atLeast: true, limit: 90, unit: 'N·m' },
  { item: 'wheel.torque', scheme: 'wheel', atLeast: false, limit: 160, unit: 'N·m' },
  { item: 'tyre.cold-pressure', scheme: 'wheel', atLeast: true, limit: 150, unit: 'kPa' },
  { item: 'tyre.cold-pressure', scheme: 'wheel', atLeast: false, limit: 260, unit: 'kPa' },
  { item: 'coolant.cap-pressure', scheme: 'car', atLeast: true, limit: 80, unit: 'kPa' },
  {
    item: 'exhaust.sound-level',
    field: 'level',
    scheme: 'car',
    atLeast: false,
    limit: 98,
    unit: 'dB(A)',
    parameter: 'soundMaximum',
  },
  { item: 'oil.level.minutes-since-shutdown', scheme: 'car', atLeast: true, limit: 5, unit: 'min' },
  { item: 'setup.ride-height', scheme: 'wheel', atLeast: true, limit: 80, unit: 'mm' },
];

export const RANGED = [
  { item: 'tyre.cold-pressure', scheme: 'wheel', from: 160, to: 240, unit: 'kPa' },
  { item: 'setup.corner-weights', scheme: 'wheel', from: 150, to: 500, unit: 'kg' },
  { item: 'coolant.cap-pressure', scheme: 'car', from: 70, to: 160, unit: 'kPa' },
  { item: 'wheel.torque', scheme: 'wheel', from: 80, to: 170, unit: 'N·m' },
] as const;

export const AGED = [
  { item: 'oil.changed-on', months: 12 },
  { item: 'brake-fluid.flushed-on', months: 12 },
  { item: 'brake-fluid.flushed-on', months: 6 },
  { item: 'gearbox-fluid.changed-on', months: 24 },
  { item: 'coolant.changed-on', months: 36 },
  { item: 'extinguisher.serviced-on', months: 24 },
  { item: 'pre-event-check.done-on', months: 1 },
  { item: 'helmet.made-on', months: 120 },
] as const;

export const VALID = [
  { item: 'helmet.made-on', years: 10, scheme: 'car' },
  { item: 'seat.made-on', years: 5, scheme: 'car' },
  { item: 'harness.label-date', years: 0, scheme: 'strap' },
] as const;

export const SPREADS = [
  { item: 'pad.thickness', scheme: 'wheel-side', within: true, limit: 2, unit: 'mm' },
  { item: 'tyre.tread', scheme: 'wheel-zone', within: true, limit: 2, unit: 'mm' },
  { item: 'tyre.cold-pressure', scheme: 'wheel', within: false, limit: 60, unit: 'kPa' },
  { item: 'setup.ride-height', scheme: 'wheel', within: false, limit: 40, unit: 'mm' },
] as const;

export const PHOTOGRAPHED = ['pad.thickness', 'tyre.tread', 'harness.label-date', 'body.numbers-displayed'] as const;

const level = (item: string, good = 'ok'): { items: string[]; expr: string } => {
  const name = item.replaceAll('-', '_');
  return { items: [item], expr: `${name}.level == "${good}" || has(${name}.cause)` };
};

/** Expressions; the closures beside are in the same order. */
export const EXPRESSIONS: readonly { items: string[]; expr: string; each?: string; when?: string }[] = [
  { each: 'wheel', items: ['pad.thickness'], expr: 'abs(pad.thickness["in"] - pad.thickness.out) <= q(2, "mm")' },
  {
    items: ['oil.level.at-operating-temperature', 'oil.level.minutes-since-shutdown'],
    expr: 'oil.level.at_operating_temperature && oil.level.minutes_since_shutdown <= q(10, "min")',
  },
  { items: ['oil.level.reading'], expr: 'oil.level.reading >= 0.0 && oil.level.reading <= 1.0' },
  {
    each: 'wheel',
    items: ['wheel.torque'],
    expr: 'abs(wheel.torque - vehicle.wheelNutTorqueNm) <= params.torqueTolerance',
  },
  { each: 'wheel', items: ['wheel-play.nine-three'], expr: 'wheel_play.nine_three.felt == "none"' },
  {
    each: 'wheel',
    items: ['wheel-play.twelve-six'],
    expr: 'wheel_play.twelve_six.felt == "none" || (has(wheel_play.twelve_six.mm) && wheel_play.twelve_six.mm <= q(0.5, "mm"))',
  },
  level('brake-fluid.level'),
  level('coolant.level'),
  { each: 'wheel', items: ['rotor.cracks'], expr: 'rotor.cracks in ["none", "surface-checks"]' },
  { each: 'wheel', items: ['rotor.cracks'], when: 'rotor.cracks != "none"', expr: 'rotor.cracks != "opening"' },
  {
    items: ['steering.free-play'],
    expr: 'steering.free_play.play <= q(25, "mm") || steering.free_play.wheelDiameter > q(400, "mm")',
  },
  {
    each: 'wheel',
    items: ['tyre.cords-visible', 'tyre.cuts-or-bulges'],
    expr: 'tyre.cords_visible == false && tyre.cuts_or_bulges == false',
  },
  { each: 'axle', items: ['pad.temperature-range'], expr: 'pad.temperature_range.high >= params.padHeat' },
  { each: 'axle', items: ['pad.temperature-range'], expr: 'pad.temperature_range.low < pad.temperature_range.high' },
  { items: ['helmet.standard'], expr: 'helmet.standard in params.helmets' },
  { items: ['brake-fluid.class'], expr: 'vehicle.massKg < q(1600, "kg") || brake_fluid.class in ["DOT 5.1", "ISO 6"]' },
  { items: ['bushing.condition'], expr: 'bushing.condition.all(p, bushing.condition[p] in ["ok", "perished"])' },
  level('gearbox-fluid.level', 'at-hole'),
  { each: 'wheel', items: ['tyre.cold-pressure'], expr: 'tyre.cold_pressure >= q(1.5, "bar")' },
  { items: ['tyre.cold-pressure'], expr: 'max(tyre.cold_pressure) <= q(42, "psi")' },
  { items: ['wheel.stud-engagement'], expr: 'wheel.stud_engagement.length >= vehicle.wheelStudDiameterMm' },
  { items: ['steering.free-play'], expr: 'steering.free_play.play < q(40, "mm")' },
  { items: ['brake-fluid.flushed-on'], expr: 'days(brake_fluid.flushed_on, event.endsOn) <= q(400, "day")' },
  { items: ['exhaust.sound-level'], expr: 'exhaust.sound_level.level <= venue.soundLimitDb' },
  { items: ['oil.changed-on'], expr: 'months(oil.changed_on, event.endsOn) < q(24, "month")' },
  { each: 'wheel', items: ['wheel.bent'], expr: '!wheel.bent.bent || wheel.bent.runout <= q(3.2, "mm")' },
];

export const PARAMETERS = {
  padMinimum: { value: 5, unit: 'mm', meaning: 'Least friction material' },
  treadMinimum: { value: 1.6, unit: 'mm', meaning: 'Least tread' },
  wetMinimum: { value: 155, unit: '°C', meaning: 'Least wet boiling point' },
  soundMaximum: { value: 98, unit: 'dB(A)', meaning: 'Most sound' },
  torqueTolerance: { value: 10, unit: 'N·m', meaning: 'Distance from the maker’s torque' },
  padHeat: { value: 400, unit: '°C', meaning: 'Least upper end of the pad range' },
  helmets: { value: ['Snell SA2020', 'Snell SA2025', 'FIA 8859-2015'], meaning: 'Accepted helmets' },
};

const limitOf = (one: Limited): Json =>
  one.parameter ? { parameter: one.parameter } : { value: one.limit, unit: one.unit };

/** The tests of the bench's rules, in the order of the closures. */
export function listTests(): { items: readonly string[]; test: Json; each?: string; when?: string }[] {
  return [
    ...CONFIRMED.map((item) => ({ items: [item], test: { kind: 'confirm', item } })),
    ...CHOICES.map(({ item, accepted, negate }) => ({
      items: [item],
      test: { kind: negate ? 'none-of' : 'one-of', item, values: accepted },
    })),
    ...LIMITED.map((one) => {
      const { item, field } = one;
      return {
        items: [item],
        test: { kind: 'limit', item, field, [one.atLeast ? 'atLeast' : 'atMost']: limitOf(one) },
      };
    }),
    {
      items: ['rotor.thickness'],
      test: { kind: 'limit', item: 'rotor.thickness', atLeast: { vehicle: 'rotorMinimumThicknessMm' } },
    },
    {
      items: ['rotor.weight'],
      test: { kind: 'limit', item: 'rotor.weight', atLeast: { vehicle: 'rotorMinimumWeightG' } },
    },
    ...RANGED.map(({ item, from, to }) => ({
      items: [item],
      test: { kind: 'range', item, from: { value: from }, to: { value: to } },
    })),
    ...AGED.map(({ item, months }) => ({
      items: [item],
      test: { kind: 'age', item, atMost: { value: months, unit: 'month' } },
    })),
    ...VALID.map(({ item, years }) => ({
      items: [item],
      test: {
        kind: 'valid-through',
        item,
        inclusive: true,
        through: 'event-end',
        endOfYear: true,
        ...(years > 0 && { addYears: { value: years } }),
      },
    })),
    ...SPREADS.map(({ item, within, limit }) => ({
      items: [item],
      test: { kind: 'spread', item, ...(within && { within: 'wheel' }), atMost: { value: limit } },
    })),
    ...PHOTOGRAPHED.map((item) => ({ items: [item], test: { kind: 'photo', item, atLeast: 1 } })),
    ...EXPRESSIONS.map(({ items, expr, each, when }) => ({ items, test: { kind: 'expression', expr }, each, when })),
  ];
}

const EFFECTS = ['bar', 'inspect', 'advise'] as const;

/** What all parts of the bench call the n-th rule, so that both sides write the same findings. */
export const headOf = (index: number, items: readonly string[]) => ({
  id: `rule-${index}`,
  title: `Rule ${index} on ${items.join(' and ')}`,
  effect: EFFECTS[index % EFFECTS.length] ?? 'bar',
  message: `Rule ${index} is not met: ${items.join(' and ')}`,
  fix: `Put ${items.join(' and ')} right`,
  basis: { kind: 'common-practice' as const },
  clearedBy: 'look' as const,
  // in the one literal: heads with items added by a spread have shapes of their own, and the closures halve their speed
  items,
});

/** The rule set of the bench, as JSON. */
export function makeBenchRuleSet(): Json {
  const rules = listTests().map(({ items, test, each, when }, index) => ({
    ...headOf(index, items),
    test,
    each,
    when,
  }));
  return JSON.parse(JSON.stringify({ name: 'Bench', parameters: PARAMETERS, rules, examples: [] })) as Json;
}
