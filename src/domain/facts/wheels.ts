import { WHEELS } from '../catalogue/item.ts';
import { roundTo } from '../quantity.ts';
import { engagementDiameters } from '../trade/safety/fastener-torque.ts';
import { playAtUkWheel } from '../trade/suspension/steering-play.ts';
import { axleOf, type Fact, type FactInput, numberAt, ownNumberAt, textAt } from './fact.ts';

const ENGAGED = 'wheel.stud-engagement';
const TWELVE_SIX = 'wheel-play.twelve-six';

/** The shorter of length and turns; a thread that is not known gives none: 8 turns are enough on M12, not on M14. */
function threadEngagement(input: FactInput): number | undefined {
  const lengthMm = numberAt(input, ENGAGED, { field: 'length' });
  const turns = numberAt(input, ENGAGED, { field: 'turns' });
  const { wheelStudDiameterMm, wheelThreadPitchMm } = input.vehicle;
  const diameterMm = input.need(
    wheelStudDiameterMm,
    'The vehicle record has no wheelStudDiameterMm',
    'wheelStudDiameterMm',
  );
  const pitchMm =
    turns === undefined
      ? undefined
      : input.need(
          wheelThreadPitchMm,
          'The vehicle record has no wheelThreadPitchMm, so turns say nothing',
          'wheelThreadPitchMm',
        );
  if (diameterMm === undefined || (turns !== undefined && pitchMm === undefined)) return undefined;
  const diameters = engagementDiameters(
    { ...(lengthMm !== undefined && { lengthMm }), ...(turns !== undefined && { turns }) },
    { diameterMm, ...(pitchMm !== undefined && { pitchMm }) },
  );
  return diameters === undefined ? undefined : roundTo(diameters, 2);
}

/** mm; no handbook that was seen allows more at a wheel of a car. Common practice, no source. */
const END_FLOAT_OF_ANY_MM = 0.2;
const FLOATS = ['in-order', 'too-much', 'limit-not-known'] as const;

/** Known only for taper bearings whose end float was measured: they are set with play, all others have none. */
function hubEndFloat(input: FactInput, position: string): (typeof FLOATS)[number] | undefined {
  const axle = axleOf(position);
  const kind = input.need(
    input.vehicle.hubBearing?.[axle],
    `The vehicle record has no hubBearing.${axle}`,
    `hubBearing.${axle}`,
  );
  if (kind !== 'taper') return undefined;
  const endFloatMm = numberAt(input, TWELVE_SIX, { position, field: 'endFloat' });
  if (endFloatMm === undefined) return undefined;
  const most = input.vehicle.hubEndFloatMaximumMm?.[axle];
  if (most === undefined) return endFloatMm <= END_FLOAT_OF_ANY_MM ? 'limit-not-known' : 'too-much';
  return endFloatMm <= most ? 'in-order' : 'too-much';
}

/** mm; few road cars have a smaller steering wheel. Taken where none is given: the same play is then a larger angle. Common practice, no source. */
const SMALL_STEERING_WHEEL_MM = 350;

/** mm; what is not given is taken to be small. */
export function steeringWheelMm(input: FactInput): number {
  const given = input.given('steering.free-play', { field: 'wheelDiameter' });
  return typeof given === 'number' ? given : SMALL_STEERING_WHEEL_MM;
}

function playAt380(input: FactInput): number | undefined {
  const play = numberAt(input, 'steering.free-play', { field: 'play' });
  return play === undefined ? undefined : roundTo(playAtUkWheel(play, steeringWheelMm(input)), 1);
}

/** Only where all three places are measured: the lowest of fewer may be anywhere else. */
function treadAtThree(input: FactInput, position: string): number | undefined {
  const places = ['inner', 'middle', 'outer'].map((place) => ownNumberAt(input, 'tyre.tread', `${position}.${place}`));
  const known = places.filter((mm) => mm !== undefined);
  return known.length === places.length ? Math.min(...known) : undefined;
}

/** Only where all four wheels were read: one that nobody touched may be loose. */
function lowestTorque(input: FactInput): number | undefined {
  const torques = WHEELS.map((position) => numberAt(input, 'wheel.torque', { position }));
  const known = torques.filter((nm) => nm !== undefined);
  return known.length === torques.length ? Math.min(...known) : undefined;
}

/** Unknown where one of the checks was not made: it is never "not felt". */
function playBothWays(input: FactInput, position: string): boolean | undefined {
  const felt = ['wheel-play.nine-three', TWELVE_SIX].map((item) => textAt(input, item, { position, field: 'felt' }));
  return felt.includes(undefined) ? undefined : felt.every((one) => one === 'felt');
}

/** Wheels, their fasteners and their bearings; the steering wheel. */
export const WHEEL_FACTS = {
  threadEngagement: {
    type: { kind: 'double', decimals: 2 },
    meaning: 'the engaged thread of the wheel fasteners in diameters, the shorter of length and turns times pitch',
    source: 'fastener-torque: geometry',
    items: [ENGAGED],
    compute: threadEngagement,
  },
  lowestWheelTorque: {
    type: { kind: 'quantity', unit: 'N·m', decimals: 0 },
    meaning: 'the lowest fastener torque of the car, where all four wheels were read',
    source: 'the least of the four',
    items: ['wheel.torque'],
    compute: lowestTorque,
  },
  hubEndFloat: {
    type: { kind: 'string', options: FLOATS },
    scheme: 'wheel',
    meaning: 'whether the measured end float of a taper bearing is within what its maker allows',
    source: 'the limit of the handbook, as the vehicle record states it',
    items: [TWELVE_SIX],
    compute: hubEndFloat,
  },
  playBothWays: {
    type: { kind: 'bool' },
    scheme: 'wheel',
    meaning: 'whether play was felt with the hands at 9 and 3 and at 12 and 6 alike: then it is the bearing first',
    source: 'play-diagnosis: common practice',
    items: ['wheel-play.nine-three', TWELVE_SIX],
    compute: playBothWays,
  },
  steeringPlayAt380: {
    type: { kind: 'quantity', unit: 'mm', decimals: 1 },
    meaning: 'the steering play as it would be at a steering wheel of 380 mm: the same angle',
    source: 'steering-play: UK MOT manual 2.2 states its limits for 380 mm and scales them',
    items: ['steering.free-play'],
    compute: playAt380,
  },
  treadAtThreePlaces: {
    type: { kind: 'quantity', unit: 'mm', decimals: 1 },
    scheme: 'wheel',
    meaning: 'the lowest tread of the tyre, where all three places across it were measured',
    source: 'the least of the three',
    items: ['tyre.tread'],
    compute: treadAtThree,
  },
} as const satisfies Readonly<Record<string, Fact>>;
