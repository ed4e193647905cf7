import { type AppliesWhen, choice, CONFIRM, fields, itemsOf, number, required } from './item.ts';
import { READ_WITH } from './read-with.ts';

/** From what stops a car to what can wait. Common practice, no source. */
const WARNING_LAMPS = [
  'none',
  'brake',
  'oil-pressure',
  'coolant-temperature',
  'high-voltage',
  'steering',
  'other',
  'abs',
  'airbag',
  'charging',
  'tyre-pressure',
  'engine',
];

const OPEN_CAR: AppliesWhen = { body: ['open', 'targa'] };

const coordinate = (label: string, from: number) =>
  required(label, number('mm', [from, 5000], 0, { plausible: [from < -500 ? -3000 : 0, 3000] }));

/** Body, exhaust, roll-over structure. */
export const BODY_ITEMS = itemsOf('body-safety', [
  {
    key: 'lamps.warning',
    label: 'Warning lamp that stays lit',
    help: 'Start the car, wait ten seconds, look at the instruments. Of several lamps choose the one that stands first in this list. None: all are off, or there are none.',
    answer: choice(...WARNING_LAMPS),
    answeredBy: 'both',
  },
  {
    key: 'lights.head-and-tail',
    label: 'Headlamps and tail lamps work',
    help: 'Both sides, front and rear; the headlamps on low beam, their glass whole. For sessions in rain or at dusk.',
    answer: CONFIRM,
    answeredBy: 'both',
  },
  {
    key: 'body.numbers-displayed',
    label: 'Car numbers are displayed',
    help: 'On both sides, readable from a marshal post, in a colour that stands out; old numbers are covered.',
    answer: CONFIRM,
    answeredBy: 'both',
  },
  {
    key: 'body.panels-secure',
    label: 'Bonnet, boot, doors and panels are secure',
    help: 'Pull at every edge; latches and pins are closed, splitters and wings do not move.',
    answer: CONFIRM,
    answeredBy: 'both',
  },
  {
    key: 'body.windscreen',
    label: 'Windscreen is sound and clean',
    help: 'No crack in the field of view, wipers work; a car built without one has what its rules ask for instead.',
    answer: CONFIRM,
    answeredBy: 'both',
  },
  {
    key: 'body.mirrors',
    label: 'Mirrors are fixed and show behind',
    help: 'From the driving position, belted: both sides or inside and one side, as the organizer asks.',
    answer: CONFIRM,
    answeredBy: 'both',
  },
  {
    key: 'body.loose-items',
    label: 'Nothing is loose in the cabin and boot',
    help: 'Empty pockets, glove box, boot and under the seats; jack and spare wheel out or bolted down. A camera is screwed on and tethered, or off.',
    answer: CONFIRM,
    answeredBy: 'both',
  },
  {
    key: 'body.floor-mats-out',
    label: 'Floor mats are out',
    help: "At least the driver's: a mat can slide under the pedals.",
    answer: CONFIRM,
    answeredBy: 'both',
  },
  {
    key: 'body.cameras-secured',
    label: 'Cameras are secured, or none is fitted',
    help: 'Fixed by screws and tethered where the organizer asks; a suction cup alone comes off.',
    answer: CONFIRM,
    answeredBy: 'both',
  },
  {
    key: 'body.tow-eye',
    label: 'Tow eyes or straps are fitted and visible',
    help: 'Front and rear where the organizer asks, screwed in fully, marked so that a crew finds them.',
    answer: CONFIRM,
    answeredBy: 'both',
  },
  {
    key: 'exhaust.secure',
    label: 'Exhaust is secure and does not leak',
    help: 'Pull at the hangers cold; no part hangs low, no gas into the cabin.',
    answer: CONFIRM,
    answeredBy: 'both',
    appliesWhen: { powertrain: ['combustion', 'hybrid'] },
    cautions: ['hot-parts', 'lifting'],
  },
  {
    key: 'exhaust.sound-level',
    label: 'Sound level',
    help: 'As measured, with the distance and the method. Near-field: close to the tailpipe. Drive-by: from the trackside. Static: standing, at the distance stated.',
    answer: fields({
      level: required(
        'Level',
        number('dB(A)', [30, 160], 1, { plausible: [60, 125], uncertainty: READ_WITH.soundMeter }),
      ),
      distance: required(
        'Distance from the outlet or from the line of the car',
        number('m', [0.1, 200], 2, { plausible: [0.2, 60] }),
      ),
      method: required('Method', choice('near-field', 'drive-by', 'static')),
    }),
    answeredBy: 'both',
    appliesWhen: { powertrain: ['combustion', 'hybrid'] },
    cautions: ['noise-meter', 'hot-parts'],
  },
  {
    key: 'rollover.structure',
    label: 'Roll-over structure',
    help: 'What stands above the heads of the people in an open car, fixed to the body shell.',
    answer: choice('none', 'factory-fixed', 'factory-pop-up', 'roll-bar', 'roll-cage', 'other'),
    answeredBy: 'both',
    appliesWhen: OPEN_CAR,
  },
  {
    key: 'rollover.clearance',
    label: 'Helmet clearance under the roll-over line',
    help: 'Driver seated, belted, helmet on. Three points from the side, from one origin: x forward, z up. The line runs from the top of the main hoop to the front structure.',
    answer: fields({
      hoopTopX: coordinate('Top of the main hoop, x', -5000),
      hoopTopZ: coordinate('Top of the main hoop, z', -500),
      frontX: coordinate('Front structure or header, x', -5000),
      frontZ: coordinate('Front structure or header, z', -500),
      helmetTopX: coordinate('Top of the helmet, x', -5000),
      helmetTopZ: coordinate('Top of the helmet, z', -500),
    }),
    answeredBy: 'both',
    appliesWhen: OPEN_CAR,
  },
  {
    key: 'rollover.closed-car',
    label: 'Roll structure of the closed car',
    help: 'What is bolted or welded to the shell behind or around the seats. None: the car as its maker built it.',
    answer: choice('none', 'roll-bar', 'roll-cage', 'other'),
    answeredBy: 'both',
    appliesWhen: { body: ['closed'] },
  },
  {
    key: 'rollover.padding',
    label: 'Padding of the roll structure',
    help: 'Belted, helmet on, lean every way: each tube that the helmet can touch needs firm padding that does not burn.',
    answer: choice('fitted', 'out-of-reach', 'missing'),
    answeredBy: 'both',
  },
  {
    key: 'arm-restraints',
    label: 'Arm restraints are fitted and adjusted',
    help: 'For everyone in an open car: the hands cannot leave the car, and the straps go with the belt buckle.',
    answer: CONFIRM,
    answeredBy: 'both',
    appliesWhen: OPEN_CAR,
  },
  {
    key: 'window-net',
    label: 'Window net or closed window as the group asks',
    help: 'A net is fixed at the bottom and opens from the top with one hand; without a net: what the organizer accepts.',
    answer: CONFIRM,
    answeredBy: 'both',
  },
]);
