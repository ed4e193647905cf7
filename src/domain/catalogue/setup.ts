import { choice, choices, fields, itemsOf, number, optional, required } from './answers.ts';

const REPAIRS = ['replaced', 'repaired', 'adjusted', 'cleaned', 'filled-or-bled', 'not-yet'];

/** What may not be driven before it is found and put right, and what it usually is. Common practice, no source. */
const STOP_SYMPTOMS: readonly (readonly [symptom: string, label: string, causes: readonly string[]])[] = [
  [
    'pulls-under-braking',
    'Pulled under braking: what it was, and what was done',
    ['caliper-piston', 'caliper-guides', 'hose', 'pads-or-rotor', 'bushing-or-joint', 'tyre-or-pressure'],
  ],
  [
    'long-pedal-after-laps',
    'Long pedal: what it was, and what was done',
    ['old-fluid', 'air-in-system', 'pads-worn', 'wheel-bearing-play', 'hose-swells', 'leak'],
  ],
  [
    'weak-brakes-when-cold',
    'Weak brakes when cold: what it was, and what was done',
    ['pads-only-work-hot', 'glazed-or-oily-pads', 'brake-servo'],
  ],
  [
    'temperature-rising',
    'Temperature rising: what it was, and what was done',
    ['low-coolant', 'blocked-radiator', 'cap', 'fan', 'thermostat', 'hose', 'water-pump', 'air-in-system', 'low-oil'],
  ],
  [
    'oil-pressure-drops-in-corners',
    'Oil pressure dropped in corners: what it was, and what was done',
    ['low-level', 'wrong-grade', 'pick-up-or-baffle', 'sensor-or-wiring', 'pump-or-bearings'],
  ],
  [
    'smell-of-fuel',
    'Smell of fuel: what it was, and what was done',
    ['cap-or-seal', 'hose-or-clamp', 'filler-neck', 'tank-breather', 'pump-or-rail', 'spilled-while-filling'],
  ],
  [
    'smell-of-burning',
    'Smell of burning: what it was, and what was done',
    ['oil-on-exhaust', 'wiring', 'brake-dragging', 'clutch', 'belt', 'rag-or-rubbish', 'something-touched-exhaust'],
  ],
];

const putRight = (symptom: string, label: string, causes: readonly string[]) => ({
  key: `debrief.${symptom}`,
  label,
  help: 'The cause that was found, and what was done about it. Choose not-found while you do not know it: then the car stays off the track.',
  answer: fields({
    cause: required('Cause', choice(...causes, 'not-found')),
    repair: required('What was done', choice(...REPAIRS)),
  }),
  answeredBy: 'both' as const,
  askedAfter: { item: 'debrief.symptoms', answers: [symptom] },
});

/** Set-up record and last outing. */
export const SETUP_ITEMS = itemsOf('setup', [
  {
    key: 'setup.corner-weights',
    label: 'Corner weights',
    help: 'On four scales, driver and fuel as run.',
    answer: number('kg', [1, 2500], 1, { plausible: [50, 1000] }),
    positions: 'wheel',
    answeredBy: 'entrant',
    cautions: ['corner-scales'],
  },
  {
    key: 'setup.alignment',
    label: 'Wheel alignment',
    help: 'As last measured. Camber: negative leans in at the top. Toe of the one wheel: toe-in positive. Caster where the wheel steers.',
    answer: fields({
      camber: required('Camber', number('deg', [-20, 20], 2, { plausible: [-8, 4] })),
      toe: required('Toe', number('mm', [-60, 60], 1, { plausible: [-15, 15] })),
      caster: optional('Caster', number('deg', [-15, 30], 2, { plausible: [-3, 16] })),
    }),
    positions: 'wheel',
    answeredBy: 'entrant',
  },
  {
    key: 'setup.ride-height',
    label: 'Ride height',
    help: 'At the points you always use, on level ground, driver and fuel as run.',
    answer: number('mm', [0, 800], 0, { plausible: [30, 400] }),
    positions: 'wheel',
    answeredBy: 'entrant',
  },
  {
    key: 'debrief.symptoms',
    label: 'What the driver felt last time',
    help: 'Everything that was noticed, also what was put right since: then you are asked what it was. Each adds places to look at first. None: leave all unticked.',
    answer: choices(
      'steps-out-under-power',
      'pulls-under-braking',
      'long-pedal-after-laps',
      'weak-brakes-when-cold',
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
  ...STOP_SYMPTOMS.map(([symptom, label, causes]) => putRight(symptom, label, causes)),
]);
