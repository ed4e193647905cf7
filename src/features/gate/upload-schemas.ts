import { z } from 'zod';
import { Id, InstantIn, InstantOut, Page } from '../../http/frame/common-schemas.ts';
import { GATE_STATUSES, TypedNumber } from './schemas.ts';

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
