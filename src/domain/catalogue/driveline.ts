import { CONFIRM, DATE, fluidLevel, itemsOf } from './answers.ts';
import type { AppliesWhen } from './item.ts';

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
