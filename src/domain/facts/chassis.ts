import { WHEELS } from '../catalogue/item.ts';
import { roundTo } from '../quantity.ts';
import { ALIGNMENT_TOLERANCE, type AlignmentAngle, compareWheels } from '../trade/suspension/alignment-compare.ts';
import { cornerWeights } from '../trade/suspension/corner-weights.ts';
import { diagnosePlay, FELT } from '../trade/suspension/play-diagnosis.ts';
import { STEERING_LASH_TABLE, steeringLashLimit } from '../trade/suspension/steering-play.ts';
import type { Wheel } from '../catalogue/item.ts';
import { steeringWheelMm } from './wheels.ts';
import { axleOf, type Fact, type FactInput, numberAt, textAt } from './fact.ts';

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
