import { choices, fields, itemsOf, number, optional, required } from './answers.ts';

/** Set-up record and last outing. */
export const SETUP_ITEMS = itemsOf('setup', [
  {
    key: 'setup.corner-weights',
    label: 'Corner weights',
    help: 'On four scales, driver and fuel as run.',
    answer: number('kg', [1, 2500], 1),
    positions: 'wheel',
    answeredBy: 'entrant',
    cautions: ['corner-scales'],
  },
  {
    key: 'setup.alignment',
    label: 'Wheel alignment',
    help: 'As last measured. Camber: negative leans in at the top. Toe of the one wheel: toe-in positive. Caster where the wheel steers.',
    answer: fields({
      camber: required('Camber', number('deg', [-20, 20], 2)),
      toe: required('Toe', number('mm', [-60, 60], 1)),
      caster: optional('Caster', number('deg', [-15, 30], 2)),
    }),
    positions: 'wheel',
    answeredBy: 'entrant',
  },
  {
    key: 'setup.ride-height',
    label: 'Ride height',
    help: 'At the points you always use, on level ground, driver and fuel as run.',
    answer: number('mm', [0, 800], 0),
    positions: 'wheel',
    answeredBy: 'entrant',
  },
  {
    key: 'debrief.symptoms',
    label: 'What the driver felt last time',
    help: 'Everything that was noticed and not yet put right; each adds places to look at first. None: leave all unticked.',
    answer: choices(
      'steps-out-under-power',
      'pulls-under-braking',
      'long-pedal-after-laps',
      'vibration',
      'vibration-under-braking',
      'knock-over-kerbs',
      'wanders',
      'temperature-rising',
      'oil-pressure-drops-in-corners',
      'smell-of-fuel',
      'smell-of-burning',
      'hard-to-change-gear',
      'pushes-wide',
      'noise-in-corners',
    ),
    answeredBy: 'entrant',
  },
]);
