import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { eventParams, Id, InstantOut } from '../../http/frame/common-schemas.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { proveHeads, proveRow } from './proofs.ts';
import { listEvents } from './audit-store.ts';

const MAX_ROWS = 2_147_483_647;
const Hash = z.string().describe('SHA-256, hex');
const Proof = z.array(Hash).describe('The hashes of the proof, in their order');

const Content = z.object({
  entryId: Id.optional().describe('The entry that the row is about'),
  carId: Id.optional().describe('The car in the event, where it is about that'),
  eventId: Id.optional().describe('The event, where it is about that'),
  seq: z.int().describe('Number among the rows about the same'),
  action: z.string().describe('What happened'),
  actorId: z.string().describe('Token of whoever did it'),
  actorRole: z.string().describe('Role of that token'),
  at: InstantOut.describe('When it was decided'),
  data: z.record(z.string(), z.unknown()).describe('Facts, as they were written'),
  prevHash: z.string().describe('`hash` of the row before about the same; empty for the first'),
});

const RowProof = z
  .object({
    eventId: Id,
    historyId: Id.describe('The history row'),
    content: Content.describe('What `hash` covers: SHA-256 over it as canonical JSON (RFC 8785)'),
    hash: Hash.describe("The row's own hash"),
    index: z.int().describe('Place of its leaf, from 0'),
    leafHash: Hash.describe('SHA-256 over the byte 0x00 and the 32 bytes of `hash`'),
    proof: Proof,
    head: z
      .object({
        size: z.int().describe('Leaves under it'),
        root: Hash.describe('What leaf and proof come to'),
        at: InstantOut.describe('When it was signed'),
        kid: z.string().describe('The key that signed it, at `/.well-known/history-keys.json`'),
        jws: z.string().describe('The head as a compact JWS; its payload has `eventId`, `size`, `root` and `at`'),
      })
      .describe('The newest signed head'),
  })
  .meta({ id: 'HistoryProof' });

const Size = z.object({ size: z.int().describe('Leaves under it'), root: Hash.describe('Root of the tree over them') });
const HeadsProof = z
  .object({
    eventId: Id,
    first: Size.describe('The earlier head'),
    second: Size.describe('The later head'),
    proof: Proof,
  })
  .meta({ id: 'HeadsProof' });

const RowQuery = z
  .strictObject({
    historyId: Id.optional().describe('A history row'),
    signOffId: Id.optional().describe('A sign-off: the row that tells it'),
  })
  .refine(
    (query) => (query.historyId === undefined) !== (query.signOffId === undefined),
    'give historyId or signOffId',
  );

const size = z.coerce.number().int().min(0).max(MAX_ROWS);
const HeadsQuery = z.strictObject({
  first: size.describe('Size of the earlier head'),
  second: size.optional().describe('Size of the later head; absent: of the newest signed one'),
});

const ROOT = '5d0b2a7c9e1f40d38b6a5c4e3f2d1b0a9c8e7f6d5b4a39281706f5e4d3c2b1a0';
const EXAMPLE_EVENT = '019ab8f0-0000-7000-8000-0000000000d1';
const ROW_EXAMPLE = {
  eventId: EXAMPLE_EVENT,
  historyId: '019ab8f0-0000-7000-8000-0000000000a1',
  content: {
    entryId: '019ab8f0-0000-7000-8000-0000000000e1',
    seq: 1,
    action: 'entry.created',
    actorId: '019ab8f0-0000-7000-8000-0000000000f1',
    actorRole: 'organizer',
    at: '2026-06-01T08:12:00.000Z',
    data: {},
    prevHash: '',
  },
  hash: ROOT,
  index: 0,
  leafHash: ROOT,
  proof: [ROOT],
  head: {
    size: 2,
    root: ROOT,
    at: '2026-06-01T08:12:04.000Z',
    kid: 'oKIywvGUpTVTyxMQ3bwIIeQUudfr',
    jws: 'eyJhbGciOi.e30.c2ln',
  },
};
const HEADS_EXAMPLE = {
  eventId: EXAMPLE_EVENT,
  first: { size: 1, root: ROOT },
  second: { size: 2, root: ROOT },
  proof: [ROOT],
};

const ROW_DESCRIPTION = `Shows that a row, for example of one sign-off, is in the sealed history. To check it without this server:
\`hash\` is SHA-256 over \`content\` as canonical JSON (RFC 8785); \`leafHash\` is SHA-256 over 0x00 and the bytes of \`hash\`;
\`leafHash\`, \`index\`, \`proof\` and \`head.size\` lead to \`head.root\` by RFC 9162, section 2.1.3.2; and \`head.jws\` is a compact
JWS (ES256, \`typ\` \`gridworthy-head+jwt\`) that a key of \`/.well-known/history-keys.json\` verifies and whose payload says the
same \`eventId\`, \`size\` and \`root\`.`;

const HEADS_DESCRIPTION = `Shows that the history at a later size begins with the history at an earlier one, so that nothing before
was changed: check \`first.root\` (as you noted it down), \`second.root\` and \`proof\` by RFC 9162, section 2.1.4.2.`;

/** Proofs that hold without this server. */
export async function auditProofRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  const common = { tag: 'Clearance', access: ['organizer', 'chief'], method: 'GET', params: eventParams } as const;
  const assertEvent = async (eventId: string) => {
    if ((await listEvents(deps.db.prisma, eventId)).length === 0) throw notFound('event');
  };
  addRoute(app, {
    ...common,
    path: '/events/:eventId/audit/proofs',
    operationId: 'proveHistoryRow',
    summary: 'Prove that a row is in the history',
    description: ROW_DESCRIPTION,
    query: RowQuery,
    success: { 200: { description: 'The row and its proof', schema: RowProof, example: ROW_EXAMPLE } },
    problems: ['not-found', 'not-sealed'],
    handle: async ({ params, query }) => {
      await assertEvent(params.eventId);
      const { content, head, ...proof } = await proveRow(deps, params.eventId, query);
      return {
        status: 200,
        body: { ...proof, content: { ...content }, head: { ...head, at: head.at.toISOString() } },
      };
    },
  });
  addRoute(app, {
    ...common,
    path: '/events/:eventId/audit/consistency',
    operationId: 'proveHistoryHeads',
    summary: 'Prove that a later history begins with an earlier one',
    description: HEADS_DESCRIPTION,
    query: HeadsQuery,
    success: { 200: { description: 'Both heads and the proof', schema: HeadsProof, example: HEADS_EXAMPLE } },
    problems: ['not-found', 'not-sealed'],
    handle: async ({ params, query }) => {
      await assertEvent(params.eventId);
      return { status: 200, body: await proveHeads(deps, params.eventId, query) };
    },
  });
}
