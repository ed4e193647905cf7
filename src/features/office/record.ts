import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { entryParams, Id, InstantOut } from '../../http/frame/common-schemas.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import type { Tx } from '../../platform/database/db.ts';

type SignOff = EntryRecordView['signOffs'][number];

const given = <K extends string, V>(name: K, value: V | null | undefined): { [P in K]?: V } =>
  (value === null || value === undefined ? {} : { [name]: value }) as { [P in K]?: V };

/**
 * What people said, saw, measured and decided about an entry: who said each declaration, every sign-off with what was looked
 * at, and its conditions with who saw that they are done.
 *
 * @throws ProblemError `not-found`
 */
async function readEntryRecord(db: Tx, entryId: string): Promise<EntryRecordView> {
  const where = { entryId };
  const entry = await db.entry.findUnique({ where: { id: entryId }, select: { id: true } });
  if (entry === null) throw notFound('entry');
  const [inspections, conditions] = await Promise.all([
    db.inspection.findMany({
      where: { ...where, cause: 'submitted' },
      select: { id: true, revision: true, submittedBy: true, submittedName: true, submittedAt: true },
      orderBy: { revision: 'desc' },
    }),
    db.condition.findMany({ where, orderBy: [{ signOffId: 'asc' }, { id: 'asc' }] }),
  ]);
  const typists = await listTypists(
    db,
    inspections.map(({ submittedBy }) => submittedBy),
  );
  const signOffs = await db.signOff.findMany({ where, orderBy: [{ signedAt: 'desc' }, { id: 'desc' }] });
  return {
    entryId,
    submissions: inspections.map(({ id, revision, submittedBy, submittedName, submittedAt }) => ({
      inspectionId: id,
      revision,
      by: submittedName,
      at: submittedAt.toISOString(),
      ...given('typedBy', typists.get(submittedBy)),
    })),
    signOffs: signOffs.map((row) => ({
      signOffId: row.id,
      inspectionId: row.inspectionId,
      // Checks of the database keep the column.
      decision: row.decision as SignOff['decision'],
      by: row.signedName,
      at: row.signedAt.toISOString(),
      ...given('note', row.note),
      ...given('stickerNumber', row.stickerNumber),
      // Written by sign-offs only, from parsed checks.
      checks: row.checks as SignOff['checks'],
    })),
    conditions: conditions.map(({ id, signOffId, text, dueAt, doneAt, doneName, doneNote }) => ({
      conditionId: id,
      signOffId,
      text,
      ...given('dueAt', dueAt?.toISOString()),
      ...(doneAt === null
        ? {}
        : { done: { by: doneName ?? '', at: doneAt.toISOString(), ...given('note', doneNote) } }),
    })),
  };
}

/** Names of the staff among those who submitted, by their tokens: they typed what somebody of the entry said. */
async function listTypists(db: Tx, tokenIds: readonly string[]): Promise<ReadonlyMap<string, string>> {
  const rows = await db.token.findMany({
    where: { id: { in: [...tokenIds] }, role: { not: 'entrant' } },
    select: { id: true, holder: true },
  });
  return new Map(rows.map(({ id, holder }) => [id, holder]));
}

/** An entry as the office reads it. */
export async function entryRecordRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    tag: 'Entries',
    access: ['organizer', 'chief'],
    method: 'GET',
    path: '/entries/:entryId/record',
    operationId: 'getEntryRecord',
    summary: 'Read who said, saw, measured and decided what about an entry',
    description:
      'Every declaration with who said it, every sign-off with its checks, every condition with who saw it done.',
    params: entryParams,
    success: { 200: { description: 'The record', schema: EntryRecordView, example: RECORD_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params }) => ({ status: 200, body: await readEntryRecord(deps.db.prisma, params.entryId) }),
  });
}

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
const EntryRecordView = z
  .object({
    entryId: Id,
    submissions: z
      .array(
        z.object({
          inspectionId: Id,
          revision: z.int().describe('1 for the first'),
          by: z.string().describe('Who said it'),
          at: InstantOut,
          typedBy: z.string().optional().describe('Who of the staff typed it; absent: whoever said it'),
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
type EntryRecordView = z.infer<typeof EntryRecordView>;

const ENTRY = '019ab8f0-0000-7000-8000-0000000000e1';
const SIGN_OFF = '019ab8f0-0000-7000-8000-0000000000f2';
const INSPECTION = '019ab8f0-0000-7000-8000-0000000000f1';

const RECORD_EXAMPLE: EntryRecordView = {
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
