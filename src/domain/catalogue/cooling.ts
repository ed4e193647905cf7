import { CONFIRM, choice, DATE, fluidLevel, itemsOf, number } from './answers.ts';
import type { AppliesWhen } from './item.ts';

const LIQUID_COOLED: AppliesWhen = { cooling: ['liquid'] };

/** Coolant, hoses, radiator. */
export const COOLING_ITEMS = itemsOf('cooling', [
  {
    key: 'coolant.level',
    label: 'Coolant level',
    help: 'Cold, between the marks of the expansion tank. If it is low, say why.',
    answer: fluidLevel(['ok', 'low', 'over-full'], ['opened-for-work', 'boiled-over', 'leak', 'not-known']),
    answeredBy: 'both',
    appliesWhen: LIQUID_COOLED,
    cautions: ['radiator-cap'],
  },
  {
    key: 'coolant.changed-on',
    label: 'Coolant last changed on',
    help: 'The day the system was drained and filled again.',
    answer: DATE,
    answeredBy: 'entrant',
    appliesWhen: LIQUID_COOLED,
    cautions: ['radiator-cap'],
  },
  {
    key: 'coolant.type',
    label: 'What is in the cooling system',
    help: 'Some venues forbid glycol because a spill stays slippery: then water, with or without a wetting agent.',
    answer: choice(
      'water',
      'water-with-additive',
      'ethylene-glycol-mix',
      'propylene-glycol-mix',
      'waterless',
      'unknown',
    ),
    answeredBy: 'entrant',
    appliesWhen: LIQUID_COOLED,
  },
  {
    key: 'coolant.cap-pressure',
    label: 'Pressure the radiator or expansion-tank cap is marked with',
    help: 'Gauge pressure, as marked on the cap: the boiling point rises with it.',
    answer: number('kPa', [0, 350], 0, { plausible: [50, 200] }),
    answeredBy: 'entrant',
    appliesWhen: LIQUID_COOLED,
    cautions: ['radiator-cap'],
  },
  {
    key: 'coolant.hoses',
    label: 'Coolant hoses and clamps are sound',
    help: 'No bulge, crack, soft spot or white crust at a clamp; nothing rubs.',
    answer: CONFIRM,
    answeredBy: 'both',
    appliesWhen: LIQUID_COOLED,
    cautions: ['radiator-cap', 'hot-parts'],
  },
  {
    key: 'radiator.debris',
    label: 'Debris in the radiators and coolers',
    help: 'Look through the front opening and between the stacked coolers: leaves, rubber, bent fins.',
    answer: choice('clear', 'some', 'blocked'),
    answeredBy: 'both',
    cautions: ['hot-parts'],
  },
]);
