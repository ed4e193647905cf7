import { type AppliesWhen, choice, CONFIRM, DATE, fluidLevel, itemsOf, number } from './item.ts';

const LEVEL_HELP =
  'At the filler hole, or by the dipstick as the maker says: at the hole, just below it (fluid within reach of a bent finger), or low. If it is low, say why.';

/** Why the oil of a gearbox or differential is low. */
const LOW_GEAR_OIL = ['opened-for-work', 'leak', 'not-known'];

/** A gearbox with oil of its own that can be checked. The reduction gear of a battery car has no dipstick and no plug to read at. */
const OWN_OIL: AppliesWhen = { powertrain: ['combustion', 'hybrid'], gearbox: ['own-oil'] };

/** Gearbox, differential, shafts. */
export const DRIVELINE_ITEMS = itemsOf('driveline', [
  {
    key: 'gearbox-fluid.changed-on',
    label: 'Gearbox fluid last changed on',
    help: 'The day the fluid was drained and replaced. A gearbox that is sealed, or that runs in the oil of the engine, has none of its own.',
    answer: DATE,
    answeredBy: 'entrant',
    appliesWhen: OWN_OIL,
    doesNotApply: ['sealed-for-life', 'shares-engine-oil'],
  },
  {
    key: 'differential-fluid.changed-on',
    label: 'Differential fluid last changed on',
    help: 'Where the differential has fluid of its own, apart from the gearbox.',
    answer: DATE,
    answeredBy: 'entrant',
    doesNotApply: ['sealed-for-life', 'none-fitted'],
    appliesWhen: { separateDifferential: true },
  },
  {
    key: 'gearbox-fluid.level',
    label: 'Gearbox fluid level',
    help: LEVEL_HELP,
    answer: fluidLevel(['at-hole', 'just-below', 'low'], LOW_GEAR_OIL),
    answeredBy: 'both',
    appliesWhen: OWN_OIL,
    doesNotApply: ['sealed-for-life', 'shares-engine-oil'],
    cautions: ['lifting', 'hot-parts'],
  },
  {
    key: 'differential-fluid.level',
    label: 'Differential fluid level',
    help: LEVEL_HELP,
    answer: fluidLevel(['at-hole', 'just-below', 'low'], LOW_GEAR_OIL),
    answeredBy: 'both',
    doesNotApply: ['sealed-for-life', 'none-fitted'],
    appliesWhen: { separateDifferential: true },
    cautions: ['lifting', 'hot-parts'],
  },
  {
    key: 'driveline.boots-and-joints',
    label: 'Shaft boots are whole and joints have no play',
    help: 'No split boot, no grease thrown about; turn and push each shaft by hand, listening for a knock.',
    answer: CONFIRM,
    answeredBy: 'both',
    cautions: ['lifting', 'hot-parts'],
  },
  {
    key: 'driveline.bolts',
    label: 'Shaft, flange and mount bolts are tight',
    help: 'Put a wrench on each, or check the paint marks; engine and gearbox mounts too.',
    answer: CONFIRM,
    answeredBy: 'both',
    cautions: ['lifting', 'hot-parts'],
  },
]);

const HIGH_VOLTAGE_CAR: AppliesWhen = { powertrain: ['battery', 'hybrid'] };

/** High-voltage cars. */
export const ELECTRIC_ITEMS = itemsOf('electric', [
  {
    key: 'hv.damage-or-work',
    label: 'Damage to, or work on, the high-voltage system since the last event',
    help: 'Signed off: a trained workshop has checked it, measured the isolation and written so. A flooded car, or one that hit something with its floor, counts as damaged.',
    answer: choice('none', 'work-signed-off', 'work-not-signed-off', 'damage'),
    answeredBy: 'entrant',
    appliesWhen: HIGH_VOLTAGE_CAR,
    cautions: ['high-voltage'],
  },
  {
    key: 'hv.isolation',
    label: 'Isolation resistance per volt of working voltage',
    help: 'From the report of a trained workshop or from the car itself; never measured by the entrant. Asked of converted and competition cars, and after damage or work.',
    answer: number('Ω/V', [0, 100_000_000], 0, { plausible: [1, 10_000_000] }),
    answeredBy: 'entrant',
    appliesWhen: HIGH_VOLTAGE_CAR,
    cautions: ['high-voltage'],
  },
  {
    key: 'hv.orange-cables-sound',
    label: 'Orange cables look sound',
    help: 'By eye only, do not touch: no chafed cover, no cable hanging, no damage to the battery case.',
    answer: CONFIRM,
    answeredBy: 'both',
    appliesWhen: HIGH_VOLTAGE_CAR,
    cautions: ['high-voltage', 'lifting'],
  },
  {
    key: 'hv.service-disconnect-marked',
    label: 'The service disconnect is marked',
    help: 'Its place can be found from outside by a mark.',
    answer: CONFIRM,
    answeredBy: 'both',
    appliesWhen: HIGH_VOLTAGE_CAR,
    cautions: ['high-voltage'],
  },
  {
    key: 'hv.status-light',
    label: 'High-voltage status light',
    help: 'A light that tells crews from outside whether the car is safe to touch.',
    answer: choice('works', 'faulty', 'not-fitted'),
    answeredBy: 'both',
    appliesWhen: HIGH_VOLTAGE_CAR,
  },
  {
    key: 'hv.responder-card-on-board',
    label: 'The rescue card of this car is on board',
    help: 'The sheet for emergency crews: where the battery, cables and cut points are.',
    answer: CONFIRM,
    answeredBy: 'both',
    appliesWhen: HIGH_VOLTAGE_CAR,
  },
  {
    key: 'twelve-volt.disconnect-marked',
    label: 'The 12 V disconnect is marked',
    help: 'Cutting the 12 V supply opens the contactors of the traction battery: crews need to find it.',
    answer: CONFIRM,
    answeredBy: 'both',
    appliesWhen: HIGH_VOLTAGE_CAR,
    cautions: ['battery'],
  },
  {
    key: 'hv.faults-none',
    label: 'The car shows no high-voltage fault',
    help: 'No warning on the display after a start; no stored fault if you can read them.',
    answer: CONFIRM,
    answeredBy: 'both',
    appliesWhen: HIGH_VOLTAGE_CAR,
  },
]);
