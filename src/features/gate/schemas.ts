import { z } from 'zod';
import { CLEARANCE_STATUSES } from '../../domain/clearance/clearance.ts';
import { GENERAL_CAUTION } from '../../domain/cautions.ts';
import { Id, InstantIn, InstantOut, Page } from '../../http/frame/common-schemas.ts';
import { LastSafeView, LookAlikeView } from '../../http/views/small-views.ts';
import { ConditionView } from '../../http/views/clearance-view.ts';

const GATE_STATUSES = [...CLEARANCE_STATUSES, 'unknown'] as const;
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
const TypedNumber = z
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

export const MAX_CHECKS = 1000;
const ADMITTING: readonly string[] = ['clear', 'clear-with-conditions'];
const OFFLINE_STATUSES = [...GATE_STATUSES, 'cannot-tell'] as const;

const Status = z.enum(OFFLINE_STATUSES).describe('What the device answered; `cannot-tell` when its list was of no use');
const SnapshotSeq = z.int().min(0).max(2_147_483_647).describe('`seq` of the list it answered from');

export const UploadedCheck = z
  .strictObject({
    clientId: Id.describe('UUID that the device gave this check; sent again, it is the same check'),
    carNumber: TypedNumber,
    runGroupId: Id.optional().describe('The run group asked for, if one was'),
    askedAt: InstantIn.describe('When, by the clock of the device'),
    admit: z.boolean().describe('What the device answered'),
    status: Status,
    snapshotSeq: SnapshotSeq,
  })
  .refine((check) => check.admit === ADMITTING.includes(check.status), {
    message: 'admit and status contradict each other',
    path: ['admit'],
  });
export type UploadedCheck = z.infer<typeof UploadedCheck>;

export const UploadChecks = z
  .strictObject({
    checks: z.array(UploadedCheck).min(1).max(MAX_CHECKS).describe(`1 to ${MAX_CHECKS} checks, in any order`),
  })
  .meta({ id: 'UploadChecks' });

export const UploadedChecks = z
  .object({
    new: z.int().describe('Checks that were not known yet'),
    known: z.int().describe('Checks that were uploaded before; nothing about them was changed'),
    contradictions: z.int().describe('Of the new ones, those that need a look: see the list of contradictions'),
  })
  .meta({ id: 'UploadedChecks' });
export type UploadedChecks = z.infer<typeof UploadedChecks>;

export const Contradiction = z.object({
  clientId: Id.describe('UUID that the device gave this check'),
  carNumber: z.string().describe('What the marshal typed'),
  runGroupId: Id.optional().describe('The run group asked for, if one was'),
  askedAt: InstantOut.describe('When, by the clock of the device'),
  askedBy: z.string().describe('Whose device it was'),
  admit: z.boolean().describe('What the device answered'),
  status: Status,
  snapshotSeq: SnapshotSeq,
  uploadedAt: InstantOut.describe('When the server learnt of it'),
  contradicts: z
    .string()
    .describe('What the server knew at that time, with both times; or what is odd about the clock'),
});
export type Contradiction = z.infer<typeof Contradiction>;

export const ContradictionList = z
  .object({
    contradictions: z.array(Contradiction).describe('In the order they were uploaded'),
    next: z.string().optional().describe('`cursor` of the next page; absent on the last one'),
  })
  .meta({ id: 'ContradictionList' });

export const contradictionQuery = z.strictObject({ ...Page });

const CHECK_EXAMPLE = {
  clientId: '019ab8f0-0000-7000-8000-000000000181',
  carNumber: '42',
  askedAt: '2026-06-13T10:41:00.000Z',
  admit: true,
  status: 'clear',
  snapshotSeq: 311,
} as const;
export const UPLOAD_EXAMPLE = { checks: [CHECK_EXAMPLE] };
export const UPLOADED_EXAMPLE: UploadedChecks = { new: 1, known: 0, contradictions: 1 };
export const CONTRADICTIONS_EXAMPLE: { contradictions: Contradiction[] } = {
  contradictions: [
    {
      ...CHECK_EXAMPLE,
      askedBy: 'Gate tablet 2',
      uploadedAt: '2026-06-13T11:05:00.000Z',
      contradicts:
        'Admitted at 2026-06-13T10:41:00.000Z, but held since 2026-06-13T10:39:00.000Z: Held: contact in session 2.',
    },
  ],
};
