import { choice, CONFIRM, DATE, fluidLevel, itemsOf, number, READ_WITH } from './answers.ts';

/** Grades of FMVSS 116 and classes of ISO 4925:2020. They have no order: class 6 boils below class 5-1. */
export const BRAKE_FLUID_CLASSES = [
  'DOT 3',
  'DOT 4',
  'DOT 5',
  'DOT 5.1',
  'ISO 3',
  'ISO 4',
  'ISO 5-1',
  'ISO 6',
  'ISO 7',
  'mineral-oil',
  'other',
  'unknown',
] as const;

const CLASS_HELP =
  'As printed on the container. DOT 5 is silicone and mixes with no other; DOT 5.1 is not silicone. Answer unknown if you did not see the container.';
/** °C: water boils below every brake fluid, and no fluid on sale comes near 400. */
const BOILING_POINT = number('°C', [60, 400], 0, { plausible: [100, 350] });

/** Why brake or clutch fluid is low; a clutch that shares the reservoir of the brakes loses level with their pads. */
const LOW_HYDRAULICS = ['pads-worn', 'opened-for-work', 'leak', 'not-known'];

/** Brake and clutch fluid, pedal, lines and lights. */
export const BRAKE_HYDRAULICS_ITEMS = itemsOf('brake-hydraulics', [
  {
    key: 'brake-fluid.class',
    label: 'Brake fluid class',
    help: CLASS_HELP,
    answer: choice(...BRAKE_FLUID_CLASSES),
    answeredBy: 'entrant',
  },
  {
    key: 'brake-fluid.dry-boiling-point',
    label: 'Dry boiling point of the brake fluid',
    help: 'From the label: the boiling point of fresh fluid.',
    answer: BOILING_POINT,
    answeredBy: 'entrant',
    askedAfter: { item: 'brake-fluid.class', answers: BRAKE_FLUID_CLASSES },
  },
  {
    key: 'brake-fluid.wet-boiling-point',
    label: 'Wet boiling point of the brake fluid',
    help: 'From the label or data sheet: the boiling point once the fluid has taken up water. Always below the dry one.',
    answer: BOILING_POINT,
    answeredBy: 'entrant',
    askedAfter: { item: 'brake-fluid.class', answers: BRAKE_FLUID_CLASSES },
  },
  {
    key: 'brake-fluid.flushed-on',
    label: 'Brake fluid last flushed on',
    help: 'The day all of the fluid was replaced at all four wheels; a bleed to get air out is not a flush.',
    answer: DATE,
    answeredBy: 'entrant',
    cautions: ['brake-fluid'],
  },
  {
    key: 'brake-fluid.measured-boiling-point',
    label: 'Measured boiling point of the brake fluid',
    help: 'With a tester that boils the fluid, from the reservoir or, better, from a caliper.',
    answer: { ...BOILING_POINT, uncertainty: READ_WITH.boilTester },
    answeredBy: 'inspector',
    cautions: ['brake-fluid', 'hot-parts'],
  },
  {
    key: 'brake-fluid.level',
    label: 'Brake fluid level',
    help: 'Between the marks. It sinks as the pads wear, or because fluid leaks out. If it is low, look at every pad, hose, caliper and cylinder first and then say why.',
    answer: fluidLevel(['ok', 'low', 'over-full'], LOW_HYDRAULICS),
    answeredBy: 'both',
    cautions: ['brake-fluid'],
  },
  {
    key: 'clutch-fluid.class',
    label: 'Clutch fluid class',
    help: CLASS_HELP,
    answer: choice(...BRAKE_FLUID_CLASSES),
    answeredBy: 'entrant',
    doesNotApply: ['none-fitted'],
    appliesWhen: { clutchHydraulic: true },
  },
  {
    key: 'clutch-fluid.level',
    label: 'Clutch fluid level',
    help: 'Between the marks, in its own reservoir or in the one it shares with the brakes. If it is low, look at the cylinders and the hose first and then say why.',
    answer: fluidLevel(['ok', 'low', 'over-full'], LOW_HYDRAULICS),
    answeredBy: 'both',
    doesNotApply: ['none-fitted'],
    appliesWhen: { clutchHydraulic: true },
    cautions: ['brake-fluid'],
  },
  {
    key: 'brake.pedal',
    label: 'Brake pedal',
    help: 'Press hard and hold for a minute, engine running if the brakes are assisted. Firm: stops high and stays. Long: low before it stops. Spongy: springs back. Sinks: creeps to the floor.',
    answer: choice('firm', 'long', 'spongy', 'sinks'),
    answeredBy: 'both',
  },
  {
    key: 'brake.parking',
    label: 'Parking brake',
    help: 'On a slope, out of gear, applied: the car stays. Released: a rear wheel turns freely by hand, and none is hotter than the others after a drive.',
    answer: choice('holds', 'does-not-hold', 'drags', 'not-fitted'),
    answeredBy: 'both',
  },
  {
    key: 'brake.lines',
    label: 'Brake lines and hoses are sound',
    help: 'No crack, bulge, wet spot or rust; nothing rubs at full lock or full travel.',
    answer: CONFIRM,
    answeredBy: 'both',
    cautions: ['lifting', 'brake-fluid'],
  },
  {
    key: 'brake.lights',
    label: 'All brake lights work',
    help: 'Have somebody stand behind the car while you press the pedal.',
    answer: CONFIRM,
    answeredBy: 'both',
  },
]);
