import { z } from 'zod';
import { Id, InstantOut } from '../../../http/frame/common-schemas.ts';

const Check = z.object({
  item: z.string().describe('Catalogue key'),
  position: z.string().optional().describe('Where on the car'),
  result: z.string().optional().describe('`ok` or `not-ok`; absent with a value'),
  value: z.unknown().optional().describe('What was measured or seen'),
  readWith: z
    .object({
      name: z.string().describe('The instrument'),
      uncertainty: z.number().describe('Expanded uncertainty U (k = 2), in `unit`'),
      unit: z.string().describe('Of the uncertainty'),
      by: z
        .enum(['event', 'inspector'])
        .describe('Whose word the uncertainty is: the event’s list, or the inspector’s'),
    })
    .optional()
    .describe('What it was measured with; absent: what such values are usually read with'),
  note: z.string().optional().describe('In the words of whoever looked'),
});

/** What people said, saw, measured and decided about an entry. */
export const EntryRecordView = z
  .object({
    entryId: Id,
    submissions: z
      .array(
        z.object({
          inspectionId: Id,
          revision: z.int().describe('1 for the first'),
          by: z.string().describe('Who said it'),
          at: InstantOut,
        }),
      )
      .describe('Newest first'),
    signOffs: z
      .array(
        z.object({
          signOffId: Id,
          inspectionId: Id.describe('The declaration that was decided on'),
          decision: z.enum(['accept', 'accept-with-conditions', 'refuse']).describe('What was decided'),
          by: z.string().describe('Who signed'),
          at: InstantOut,
          note: z.string().optional().describe('What the inspector wrote'),
          stickerNumber: z.string().optional().describe('The sticker that was put on'),
          checks: z.array(Check).describe('What was looked at and measured'),
        }),
      )
      .describe('Newest first'),
    conditions: z
      .array(
        z.object({
          conditionId: Id,
          signOffId: Id,
          text: z.string().describe('What must be done'),
          dueAt: InstantOut.optional(),
          done: z
            .object({ by: z.string(), at: InstantOut, note: z.string().optional() })
            .optional()
            .describe('Absent: it is open'),
        }),
      )
      .describe('In the order of their sign-offs'),
  })
  .meta({ id: 'EntryRecord' });
export type EntryRecordView = z.infer<typeof EntryRecordView>;

const ENTRY = '019ab8f0-0000-7000-8000-0000000000e1';
const SIGN_OFF = '019ab8f0-0000-7000-8000-0000000000f2';
const INSPECTION = '019ab8f0-0000-7000-8000-0000000000f1';

export const RECORD_EXAMPLE: EntryRecordView = {
  entryId: ENTRY,
  submissions: [{ inspectionId: INSPECTION, revision: 1, by: 'Ines Haldorsen', at: '2026-06-10T18:02:11.000Z' }],
  signOffs: [
    {
      signOffId: SIGN_OFF,
      inspectionId: INSPECTION,
      decision: 'accept-with-conditions',
      by: 'Mara Oyelaran',
      at: '2026-06-13T05:48:00.000Z',
      stickerNumber: 'D-21',
      checks: [
        {
          item: 'pad.thickness',
          position: 'FL.in',
          value: { value: 9.2, unit: 'mm' },
          readWith: { name: 'Calliper 2', uncertainty: 0.1, unit: 'mm', by: 'event' },
        },
      ],
    },
  ],
  conditions: [
    {
      conditionId: '019ab8f0-0000-7000-8000-0000000000f3',
      signOffId: SIGN_OFF,
      text: 'Wheel torque again after session 1',
      dueAt: '2026-06-13T08:00:00.000Z',
      done: { by: 'Mara Oyelaran', at: '2026-06-13T07:52:00.000Z', note: '110 Nm on all' },
    },
  ],
};
