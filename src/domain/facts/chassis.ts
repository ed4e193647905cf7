import { type Wheel, WHEELS } from '../catalogue/item.ts';
import { roundTo } from '../quantity.ts';
import { engagementDiameters } from '../trade/safety/fastener-torque.ts';
import { ALIGNMENT_TOLERANCE, type AlignmentAngle, compareWheels } from '../trade/suspension/alignment-compare.ts';
import { cornerWeights } from '../trade/suspension/corner-weights.ts';
import { diagnosePlay, FELT } from '../trade/suspension/play-diagnosis.ts';
import { playAtUkWheel, STEERING_LASH_TABLE, steeringLashLimit } from '../trade/suspension/steering-play.ts';
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
function steeringWheelMm(input: FactInput): number {
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

const MM_PER_INCH = 25.4;
const LAST_ROW_MM = 22 * MM_PER_INCH;

/** The limit of the row of the table; wheels are measured to the millimetre, so 457 mm is the row of 18 in. */
function playLimit(input: FactInput): number | undefined {
  if (numberAt(input, 'steering.free-play', { field: 'play' }) === undefined) return undefined;
  const diameter = steeringWheelMm(input);
  const row = STEERING_LASH_TABLE.find(({ diameterIn }) => Math.round(diameterIn * MM_PER_INCH) === diameter);
  // above the last row the table gives no limit: its own is the strictest reading
  const asRead = row === undefined ? Math.min(diameter, LAST_ROW_MM) : row.diameterIn * MM_PER_INCH;
  return roundTo(steeringLashLimit(asRead).rowLimitMm, 1);
}

type Felt = (typeof FELT)[number];

function feltAt(input: FactInput, item: string, position: string): Felt | undefined {
  const felt = textAt(input, item, { position, field: 'felt' });
  return FELT.find((one) => one === felt);
}

/** Known only where play was felt: a wheel without play needs no diagnosis. */
function playDiagnosis(input: FactInput, position: string): string | undefined {
  const nineThree = feltAt(input, 'wheel-play.nine-three', position);
  const twelveSix = feltAt(input, 'wheel-play.twelve-six', position);
  if (nineThree !== 'felt' && twelveSix !== 'felt') return undefined;
  return diagnosePlay({ nineThree, twelveSix, axle: axleOf(position) }).text;
}

function crossWeight(input: FactInput): number | undefined {
  const [FL, FR, RL, RR] = WHEELS.map((position) => numberAt(input, 'setup.corner-weights', { position }));
  if (FL === undefined || FR === undefined || RL === undefined || RR === undefined) return undefined;
  return roundTo(cornerWeights({ FL, FR, RL, RR }).crossPercent, 2);
}

const ANGLES = [
  ['camberDeg', 'camber'],
  ['toeMm', 'toe'],
  ['casterDeg', 'caster'],
] as const satisfies readonly (readonly [AlignmentAngle, string])[];

function changeOf(input: FactInput, wheel: Wheel, [angle, field]: (typeof ANGLES)[number]): number | undefined {
  const before = input.vehicle.baseline?.[angle]?.[wheel];
  if (before === undefined) return undefined;
  const now = numberAt(input, 'setup.alignment', { position: wheel, field });
  const tolerance = ALIGNMENT_TOLERANCE[angle];
  const [change] = compareWheels({ [wheel]: now }, { [wheel]: before }, tolerance).changes;
  return change && Math.abs(change.change) / tolerance;
}

/** The largest change of the wheel, 1 being what two careful measurements of an unchanged car differ by. */
function alignmentChange(input: FactInput, position: string): number | undefined {
  const wheel = WHEELS.find((one) => one === position);
  const changes = wheel === undefined ? [] : ANGLES.map((angle) => changeOf(input, wheel, angle));
  const known = changes.filter((change) => change !== undefined);
  const says = `No angle of the wheel at ${position} is both measured and in the baseline of the vehicle record`;
  return input.need(known.length === 0 ? undefined : roundTo(Math.max(...known), 2), says);
}

/** Steering, wheel play and set-up. */
export const CHASSIS_FACTS = {
  steeringPlayLimit: {
    type: { kind: 'quantity', unit: 'mm', decimals: 1 },
    meaning: 'the most play at the rim of a steering wheel of this size, by the row of the table at or below it',
    source: 'steering-play: 49 CFR 570.7(a), table 1',
    items: ['steering.free-play'],
    compute: playLimit,
  },
  wheelPlayDiagnosis: {
    type: { kind: 'string' },
    scheme: 'wheel',
    meaning: 'which joint the play of the wheel is in, from both checks by hand',
    source: 'play-diagnosis: common practice',
    items: ['wheel-play.nine-three', 'wheel-play.twelve-six'],
    compute: playDiagnosis,
  },
  crossWeight: {
    type: { kind: 'quantity', unit: '%', decimals: 2 },
    meaning: 'the share of front right and rear left in the corner weights',
    source: 'corner-weights: short-track set-up literature',
    items: ['setup.corner-weights'],
    compute: crossWeight,
  },
  alignmentChange: {
    type: { kind: 'double', decimals: 2 },
    scheme: 'wheel',
    meaning: 'the largest change of alignment since the baseline; 1 is what careful measurements differ by',
    source: 'alignment-compare: common practice',
    items: ['setup.alignment'],
    compute: alignmentChange,
  },
} as const satisfies Readonly<Record<string, Fact>>;
