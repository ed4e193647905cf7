import { choice, choices, CONFIRM, DATE, fields, itemsOf, number, optional, required, YES_NO } from './item.ts';
import { READ_WITH } from './read-with.ts';

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

const PLAY = fields({
  felt: required('Play', choice('none', 'felt')),
  mm: optional(
    'If it was measured: play at the tyre',
    number('mm', [0, 100], 1, { plausible: [0, 20], uncertainty: READ_WITH.rule }),
  ),
});

/** Bushings, joints, steering, dampers, springs. */
export const SUSPENSION_STEERING_ITEMS = itemsOf('suspension-steering', [
  {
    key: 'bushing.condition',
    label: 'Bushing condition',
    help: 'Per location, loaded with a pry bar if you can; a trailing arm is a lower arm. Perished: hard, but whole. Cracked: fine lines that stay closed. Cracks open: when you pry, or it crumbles. Split: torn through. Migrating: creeping out of its housing.',
    answer: choice('ok', 'perished', 'cracked', 'cracks-open', 'split', 'migrating'),
    positions: 'bushing',
    answeredBy: 'both',
    cautions: ['lifting'],
  },
  {
    key: 'bushing.lubricated',
    label: 'Bushing is greased (urethane)',
    help: 'With the grease its maker names. Dry urethane squeaks, binds and wears.',
    answer: YES_NO,
    positions: 'bushing',
    answeredBy: 'both',
    appliesWhen: { bushing: ['urethane'] },
    cautions: ['lifting'],
  },
  {
    key: 'bushing.clean',
    label: 'Bearing is clean (spherical)',
    help: 'No grit on the ball; the boot or seal is in place where it has one.',
    answer: YES_NO,
    positions: 'bushing',
    answeredBy: 'both',
    appliesWhen: { bushing: ['spherical'] },
    cautions: ['lifting'],
  },
  {
    key: 'bushing.play',
    label: 'Play in the bearing (spherical)',
    help: 'Pry the joint against its housing and measure how far it moves; 0 if you feel nothing.',
    answer: number('mm', [0, 20], 2, { plausible: [0, 5] }),
    positions: 'bushing',
    answeredBy: 'both',
    appliesWhen: { bushing: ['spherical'] },
    cautions: ['lifting'],
  },
  {
    key: 'wheel-play.nine-three',
    label: "Wheel play, hands at 9 and 3 o'clock",
    help: 'Wheel off the ground, rock it left and right while a helper watches the tie rod ends: outer first, then inner.',
    answer: PLAY,
    positions: 'wheel',
    answeredBy: 'both',
    cautions: ['lifting'],
  },
  {
    key: 'wheel-play.twelve-six',
    label: "Wheel play, hands at 12 and 6 o'clock",
    help: 'Wheel off the ground, rock it in and out at top and bottom. A helper on the brake: if the play goes it is the wheel bearing, if it stays a ball joint. Taper bearings have play by design: measure their end float.',
    answer: fields({
      ...PLAY.fields,
      endFloat: optional(
        'Taper bearing: end float measured with a dial gauge',
        number('mm', [0, 5], 3, { plausible: [0, 1] }),
      ),
    }),
    positions: 'wheel',
    answeredBy: 'both',
    cautions: ['lifting'],
  },
  {
    key: 'steering.free-play',
    label: 'Steering free play',
    help: 'Wheels straight ahead, engine running if the steering is assisted: how far the rim of the steering wheel turns before the front wheels move. Without its diameter a small wheel is taken, which is the stricter way.',
    answer: fields({
      play: required(
        'Play at the rim',
        number('mm', [0, 500], 1, { plausible: [0, 120], uncertainty: READ_WITH.rule }),
      ),
      wheelDiameter: optional('Steering wheel diameter', number('mm', [150, 700], 0, { plausible: [250, 560] })),
    }),
    answeredBy: 'both',
  },
  {
    key: 'damper.leak',
    label: 'Damper leak',
    help: 'A trace of oil mist on the rod is a weep; oil running down the body is a leak.',
    answer: choice('none', 'weep', 'leak'),
    positions: 'wheel',
    answeredBy: 'both',
    cautions: ['lifting'],
  },
  {
    key: 'damper.mount-play',
    label: 'Play at the damper mounts',
    help: 'Hand on the mount while a helper rocks the car; then pry at the lower mount. Rubber gives: soft, and quiet. Felt: it knocks or clicks, metal moves, or rubber is torn.',
    answer: choice('none', 'rubber-gives', 'felt'),
    positions: 'wheel',
    answeredBy: 'both',
    cautions: ['lifting'],
  },
  {
    key: 'damper.serviced-on',
    label: 'Dampers last serviced on',
    help: 'For dampers that can be rebuilt: the oldest date if they were not done together. New dampers: the day they were made.',
    answer: DATE,
    answeredBy: 'entrant',
    appliesWhen: { rebuildableDampers: true },
  },
  {
    key: 'spring.condition',
    label: 'Springs are whole and seated',
    help: 'No crack, no broken end, seated at both ends with the wheel hanging; adjuster rings locked.',
    answer: CONFIRM,
    answeredBy: 'both',
    cautions: ['lifting'],
  },
  {
    key: 'suspension.fasteners',
    label: 'Suspension and steering fasteners are tight',
    help: 'Wrench on each or check the paint marks; split pins, safety wire and lock nuts in place.',
    answer: CONFIRM,
    answeredBy: 'both',
    cautions: ['lifting'],
  },
]);
