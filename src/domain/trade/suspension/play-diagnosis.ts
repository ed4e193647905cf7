import { z } from 'zod';
import { CAUTIONS } from '../../cautions.ts';
import { roundTo } from '../../quantity.ts';
import { type Assumption, calculation, measure, notComputable, NotComputable, type WorkStep } from '../calculation.ts';

export const FELT = ['none', 'felt'] as const;
/** What happened to the play at 12 and 6 while a helper held the brake. */
export const WITH_BRAKE = ['goes', 'stays'] as const;
/** Where a helper saw the movement. */
export const SEEN_AT = [
  'tie-rod-outer',
  'tie-rod-inner',
  'rack-mount',
  'ball-joint-lower',
  'ball-joint-upper',
  'hub',
  'bushing',
] as const;
export type SeenAt = (typeof SEEN_AT)[number];
export type PlayAxle = 'front' | 'rear';

/** What the two wheel checks gave; a check that is left out was not made. */
export interface PlayChecks {
  nineThree?: (typeof FELT)[number] | undefined;
  twelveSix?: (typeof FELT)[number] | undefined;
  brakeApplied?: (typeof WITH_BRAKE)[number] | undefined;
  seenAt?: SeenAt | undefined;
  /** front when left out */
  axle?: PlayAxle | undefined;
}

/**
 * - `no-play`: both checks made, nothing felt; `not-checked`: a check is missing and the other felt nothing
 * - `found`: one joint is named; `narrow-down`: several are left, `text` says how to tell them apart
 */
export const PLAY_STATUSES = ['no-play', 'found', 'narrow-down', 'not-checked'] as const;

export interface PlayDiagnosis {
  status: (typeof PLAY_STATUSES)[number];
  /** parts in the order to look at them; the first is the most likely one; empty without play */
  parts: readonly string[];
  /** what to do, one or two sentences, ready for the `fix` of a finding */
  text: string;
}

const PART: Readonly<Record<PlayAxle, Readonly<Record<SeenAt, string>>>> = {
  front: {
    'tie-rod-outer': 'outer tie rod end',
    'tie-rod-inner': 'inner tie rod end',
    'rack-mount': 'mounts or bush of the steering rack',
    'ball-joint-lower': 'lower ball joint',
    'ball-joint-upper': 'upper ball joint, or top mount of the strut',
    hub: 'wheel bearing',
    bushing: 'bushing of the control arm',
  },
  rear: {
    'tie-rod-outer': 'outer joint of the toe link',
    'tie-rod-inner': 'inner joint of the toe link',
    'rack-mount': 'mount of the toe link',
    'ball-joint-lower': 'lower ball joint or arm joint at the upright',
    'ball-joint-upper': 'upper arm joint at the upright, or top mount of the strut',
    hub: 'wheel bearing',
    bushing: 'bushing of the control arm',
  },
};

interface Case {
  joints: readonly SeenAt[];
  text: string;
}

const SIDEWAYS: Case = {
  joints: ['tie-rod-outer', 'tie-rod-inner', 'rack-mount'],
  text: 'Play at 9 and 3 alone is in the linkage. Have a helper watch while you rock the wheel, replace the joint that moves and set the alignment again.',
};

const BRAKE_TELLS =
  'Rock it again while a helper holds the brake: play that goes is the wheel bearing, play that stays is';

/** By what was felt at 9 and 3, at 12 and 6, and with the brake held. Common practice, no source. */
const CASES: Readonly<Record<string, Case>> = {
  'felt/none': SIDEWAYS,
  'none/felt': { joints: ['hub', 'ball-joint-lower', 'ball-joint-upper'], text: `${BRAKE_TELLS} a ball joint.` },
  'none/felt/goes': {
    joints: ['hub'],
    text: 'The play goes with the brake held, so it is in the hub. Replace the wheel bearing.',
  },
  'none/felt/stays': {
    joints: ['ball-joint-lower', 'ball-joint-upper', 'bushing'],
    text: 'The play stays with the brake held, so it is not the bearing. Watch the ball joints, lower first, then the arm bushings, and replace what moves.',
  },
  'felt/felt': {
    joints: ['hub', 'ball-joint-lower', 'tie-rod-outer', 'tie-rod-inner'],
    text: `Play both ways says the wheel bearing first. ${BRAKE_TELLS} in ball joint and linkage.`,
  },
  'felt/felt/goes': {
    joints: ['hub'],
    text: 'The play goes with the brake held, so it is in the hub. Replace the wheel bearing, then rock the wheel at 9 and 3 again for play in the linkage.',
  },
  'felt/felt/stays': {
    joints: ['ball-joint-lower', 'ball-joint-upper', 'tie-rod-outer', 'tie-rod-inner'],
    text: 'The play stays with the brake held, so it is not the bearing alone: look at the ball joints, lower first, and at the tie rod. Replace what moves and set the alignment again.',
  },
};

/**
 * Which joint the play of a wheel is in, from rocking it at 9 and 3 and at 12 and 6 o'clock. Total: a check that is
 * missing never reads as "no play". No units: felt or not felt.
 *
 * @see common practice, no source
 */
export function diagnosePlay(checks: PlayChecks): PlayDiagnosis {
  const { nineThree, twelveSix, brakeApplied, seenAt, axle = 'front' } = checks;
  if (nineThree !== 'felt' && twelveSix !== 'felt') return withoutPlay(nineThree, twelveSix);
  if (seenAt !== undefined) return seen(seenAt, axle);
  const found = findCase(nineThree, twelveSix, brakeApplied);
  const parts = found.joints.map((joint) => PART[axle][joint]);
  const missing = missingCheck(nineThree, twelveSix);
  const order = parts.length === 1 ? '' : ` Look in this order: ${parts.join(', ')}.`;
  return { status: parts.length === 1 ? 'found' : 'narrow-down', parts, text: `${found.text}${order}${missing}` };
}

function findCase(nineThree?: string, twelveSix?: string, brakeApplied?: string): Case {
  // a check not made is taken as "none" for where to look, and the text then asks for it
  const felt = `${nineThree ?? 'none'}/${twelveSix ?? 'none'}`;
  return CASES[`${felt}/${brakeApplied ?? ''}`] ?? CASES[felt] ?? SIDEWAYS;
}

function missingCheck(nineThree?: string, twelveSix?: string): string {
  if (nineThree === undefined) return ' Check the wheel at 9 and 3 as well.';
  return twelveSix === undefined ? ' Check the wheel at 12 and 6 as well.' : '';
}

function withoutPlay(nineThree?: string, twelveSix?: string): PlayDiagnosis {
  if (nineThree === 'none' && twelveSix === 'none') {
    return { status: 'no-play', parts: [], text: 'No play was felt; nothing to replace.' };
  }
  const open = [...(nineThree === undefined ? ['9 and 3'] : []), ...(twelveSix === undefined ? ['12 and 6'] : [])];
  return {
    status: 'not-checked',
    parts: [],
    text: `Wheel off the ground, rock it with the hands at ${open.join(', then at ')} o'clock.`,
  };
}

function seen(seenAt: SeenAt, axle: PlayAxle): PlayDiagnosis {
  const part = PART[axle][seenAt];
  const align = seenAt === 'hub' ? '' : ' Set the alignment again.';
  return { status: 'found', parts: [part], text: `The movement was seen at the ${part}: replace it.${align}` };
}

/** 49 CFR 570.7(b): most play of the steering linkage at the tyre tread, 1/4 in, in mm. */
export const LINKAGE_PLAY_LIMIT_MM = 6.35;
/** Maryland 11.22.03.04: most play of a wheel bearing at the sidewall, 1/8 in, in mm. */
export const BEARING_PLAY_LIMIT_MM = 3.175;

const Input = z.strictObject({
  nineThree: z.enum(FELT).optional().describe("Hands at 9 and 3 o'clock; leave out what was not checked"),
  nineThreeMm: measure('mm', 'Play at 9 and 3 at the tyre, if measured', { min: 0, max: 100 }).optional(),
  twelveSix: z.enum(FELT).optional().describe("Hands at 12 and 6 o'clock; leave out what was not checked"),
  twelveSixMm: measure('mm', 'Play at 12 and 6 at the tyre, if measured', { min: 0, max: 100 }).optional(),
  brakeApplied: z.enum(WITH_BRAKE).optional().describe('What the play did while a helper held the brake'),
  seenAt: z.enum(SEEN_AT).optional().describe('Where a helper saw the movement'),
  axle: z.enum(['front', 'rear']).optional().describe('Axle of the wheel; front when left out'),
});
type Input = z.infer<typeof Input>;

const Result = z.object({
  status: z.enum(PLAY_STATUSES).describe('found: one part is named; narrow-down: several are left'),
  parts: z.array(z.string()).describe('Parts in the order to look at them'),
  text: z.string().describe('What to do'),
  linkageOverLimit: z.boolean().nullable().describe('Play at 9 and 3 above 6.35 mm (1/4 in); null when not measured'),
  bearingOverLimit: z.boolean().nullable().describe('Play at 12 and 6 above 3.175 mm (1/8 in); null when not measured'),
});

function refuseContradictions({ nineThree, nineThreeMm, twelveSix, twelveSixMm, brakeApplied, seenAt }: Input): void {
  const faults = [
    ...contradiction('/nineThreeMm', nineThree, nineThreeMm),
    ...contradiction('/twelveSixMm', twelveSix, twelveSixMm),
    ...(brakeApplied !== undefined && twelveSix !== 'felt'
      ? [{ pointer: '/brakeApplied', code: 'no-play', detail: 'There was no play at 12 and 6 that could go or stay.' }]
      : []),
    ...(seenAt !== undefined && nineThree !== 'felt' && twelveSix !== 'felt'
      ? [{ pointer: '/seenAt', code: 'no-play', detail: 'Movement was seen, but no play is stated.' }]
      : []),
  ];
  if (faults.length > 0) throw new NotComputable(faults);
}

function contradiction(pointer: string, felt: string | undefined, mm: number | undefined) {
  if (mm === undefined || mm === 0 || felt === 'felt') return [];
  return [{ pointer, code: 'contradiction', detail: 'Play was measured that is not stated as felt.' }];
}

const over = (mm: number | undefined, limitMm: number): boolean | null => (mm === undefined ? null : mm > limitMm);

function workSteps(input: Input): WorkStep[] {
  const measured = [
    { what: 'Linkage play at the tyre', limit: LINKAGE_PLAY_LIMIT_MM, mm: input.nineThreeMm },
    { what: 'Bearing play at the tyre', limit: BEARING_PLAY_LIMIT_MM, mm: input.twelveSixMm },
  ];
  return measured.flatMap(({ what, limit, mm }) =>
    mm === undefined
      ? []
      : [
          {
            what,
            formula: 'play ≤ limit',
            numbers: `${roundTo(mm, 1)} mm ≤ ${limit} mm`,
            result: mm > limit ? 'over the limit' : 'within the limit of road cars',
          },
        ],
  );
}

const FRONT: Assumption = { name: 'Axle', value: 'front', standing: 'common-practice' };

/** `play-diagnosis`: which joint the play of a wheel is in, and which part to replace. */
export const PLAY_DIAGNOSIS = calculation({
  name: 'play-diagnosis',
  title: 'Where the play of a wheel comes from',
  summary: 'From rocking a wheel at 9 and 3 and at 12 and 6 with a helper: the joint, the part and what to do next.',
  input: Input,
  result: Result,
  sources: [
    { title: 'Two-handed wheel check with a helper', standing: 'common-practice' },
    { title: '49 CFR 570.7(b): linkage play at most 1/4 in at the tyre tread', standing: 'published' },
    { title: 'Maryland 11.22.03.04: wheel bearing play at most 1/8 in at the sidewall', standing: 'published' },
  ],
  example: { nineThree: 'none', twelveSix: 'felt', twelveSixMm: 2, brakeApplied: 'goes', axle: 'front' },
  compute(input) {
    if (input.nineThree === undefined && input.twelveSix === undefined) {
      throw notComputable('/nineThree', 'nothing-checked', 'State what was felt at 9 and 3, at 12 and 6, or both.');
    }
    refuseContradictions(input);
    const { status, parts, text } = diagnosePlay(input);
    return {
      result: {
        status,
        parts: [...parts],
        text,
        linkageOverLimit: over(input.nineThreeMm, LINKAGE_PLAY_LIMIT_MM),
        bearingOverLimit: over(input.twelveSixMm, BEARING_PLAY_LIMIT_MM),
      },
      steps: workSteps(input),
      assumptions: input.axle === undefined ? [FRONT] : [],
      cautions: [
        CAUTIONS.lifting.text,
        'The limits are those of road cars; on track any play that is felt is too much.',
      ],
    };
  },
});
