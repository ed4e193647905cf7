import { z } from 'zod';
import { CLEARANCE_STATUSES } from '../../domain/clearance/clearance.ts';
import { GENERAL_CAUTION } from '../../domain/cautions.ts';
import { Id, InstantOut } from '../../http/frame/common-schemas.ts';
import { LastSafeView, LookAlikeView } from '../../http/views/small-views.ts';
import { ConditionView } from '../../http/views/clearance-view.ts';

export const GATE_STATUSES = [...CLEARANCE_STATUSES, 'unknown'] as const;
export type GateStatus = (typeof GATE_STATUSES)[number];

const Rescue = z
  .object({
    drive: z.enum(['combustion', 'hybrid', 'battery']).optional().describe('What drives it'),
    gas: z.enum(['none', 'lpg', 'cng', 'hydrogen']).optional().describe('Gas it carries'),
    volts: z.number().optional().describe('Working voltage of the traction battery, V'),
    disconnectAt: z.string().optional().describe('Where the high-voltage or battery disconnect is'),
  })
  .meta({ id: 'Rescue' })
  .describe('What rescuers must know of the car; what is absent nobody said');

export const GateEntry = z.object({
  entryId: Id,
  carNumber: z.string().describe('Exact text'),
  runGroupId: Id,
  runGroup: z.string().describe('Name of the run group'),
  vehicle: z.string().describe('Description of the car'),
  colour: z.string().optional().describe('As a marshal would say it'),
  rescue: Rescue,
  admit: z.boolean().describe('Whether this entry may go onto the track now'),
  status: z.enum(CLEARANCE_STATUSES).describe('Status of the clearance'),
  reason: z.string().describe('One plain sentence'),
  validUntil: InstantOut.nullable().describe('Until when `admit: true` holds if nothing else happens'),
  conditions: z.array(ConditionView).describe('Conditions still open'),
  lastSafe: LastSafeView.optional(),
});
export type GateEntry = z.infer<typeof GateEntry>;

export const GateAnswer = z
  .object({
    eventId: Id,
    carNumber: z.string().describe('As asked'),
    admit: z.boolean().describe('True only if every entry asked for admits; anything but true means: do not admit'),
    status: z.enum(GATE_STATUSES).describe('Of the entry that decides; `unknown` when no car has this number'),
    reason: z.string().describe('One plain sentence'),
    asOf: InstantOut.describe('When this was decided'),
    validUntil: InstantOut.nullable().describe('Until when `admit: true` holds if nothing else happens'),
    similar: z.array(z.string()).describe('Numbers that may have been meant, when the number is unknown'),
    lookAlikes: z
      .array(LookAlikeView)
      .describe(
        'Other cars of the event whose numbers can be taken for this one, whatever the answer; without verdicts',
      ),
    entries: z.array(GateEntry).describe('One per run group the number is entered in'),
    caution: z.string().describe('To be shown with it'),
  })
  .meta({ id: 'GateAnswer' });
export type GateAnswer = z.infer<typeof GateAnswer>;

export const GateList = z
  .object({
    eventId: Id,
    entries: z.array(GateEntry).describe('Every entry of the event, by number'),
    caution: z.string().describe('To be shown with it'),
  })
  .meta({ id: 'GateList' });

/** Whatever a marshal types gets an answer, so this takes more than a car number can be; a space is not taken off. */
export const TypedNumber = z
  .string()
  .max(40)
  // oxlint-disable-next-line no-control-regex -- control characters are exactly what is refused
  .regex(/^(?=.*\S)[^\u0000-\u001f\u007f]*$/, 'must not be empty, and must not hold control characters')
  .describe('What the marshal typed; compared exactly');

export const gateParams = z.strictObject({ eventId: Id, carNumber: TypedNumber });

export const GateQuery = z.strictObject({
  runGroupId: Id.optional().describe('Only the entry in this run group: for a shared car at one session'),
});

const ENTRY_EXAMPLE: GateEntry = {
  entryId: '019ab8f0-0000-7000-8000-0000000000e1',
  carNumber: '42',
  runGroupId: '019ab8f0-0000-7000-8000-0000000000c1',
  runGroup: 'Novice',
  vehicle: 'Club coupé 2.0, 2014',
  colour: 'white with a green stripe',
  rescue: { drive: 'hybrid', gas: 'none', volts: 320, disconnectAt: 'under the rear seat, left' },
  admit: true,
  status: 'clear',
  reason: 'Signed off at the tech line.',
  validUntil: '2026-06-14T22:00:00.000Z',
  conditions: [],
};

export const GATE_EXAMPLE: GateAnswer = {
  eventId: '019ab8f0-0000-7000-8000-0000000000b1',
  carNumber: '42',
  admit: true,
  status: 'clear',
  reason: 'Signed off at the tech line.',
  asOf: '2026-06-13T07:02:11.000Z',
  validUntil: '2026-06-14T22:00:00.000Z',
  similar: [],
  lookAlikes: [{ carNumber: '042', vehicle: 'Estate 1.6, 2009', colour: 'red', kind: 'zeros' }],
  entries: [ENTRY_EXAMPLE],
  caution: GENERAL_CAUTION,
};

export const GATE_LIST_EXAMPLE = {
  eventId: GATE_EXAMPLE.eventId,
  entries: [ENTRY_EXAMPLE],
  caution: GENERAL_CAUTION,
};
