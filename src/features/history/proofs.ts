import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { eventParams, Id, InstantOut } from '../../http/frame/common-schemas.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import {
  consistencyProof,
  EMPTY_ROOT,
  type Hash,
  inclusionProof,
  type Levels,
  levelsOf,
} from '../../platform/merkle-tree.ts';
import { runInSlices } from '../../platform/clock.ts';
import type { ChainedRow } from '../../records/history/history.ts';
import { signHeads } from '../../records/history/signing.ts';
import { findLeaf, findNewestHead, findSealedRow, listEvents, listLeafHashes, type SignedTree } from './store.ts';
import { contentOf } from './walk.ts';

/** All that shows, without this server, that a row is in a history: hashes hexadecimal. */
interface RowProof {
  eventId: string;
  historyId: string;
  /** what the row's hash covers */
  content: ChainedRow;
  hash: string;
  index: number;
  leafHash: string;
  /** from the leaf to the root */
  proof: string[];
  head: SignedTree;
}

/** What shows that a later history begins with an earlier one. */
interface HeadsProof {
  eventId: string;
  first: { size: number; root: string };
  second: { size: number; root: string };
  proof: string[];
}

const RETRY = { 'retry-after': '1' };
const hex = (hash: Hash): string => hash.toString('hex');

/**
 * Proves that a history row, or the row of a sign-off, is in the event's history, up to the newest signed head.
 *
 * @throws ProblemError `not-found` (row of this event), `not-sealed` (a moment after it was written)
 */
async function proveRow(
  deps: Deps,
  eventId: string,
  wanted: { historyId?: string | undefined; signOffId?: string | undefined },
): Promise<RowProof> {
  const { prisma, pool } = deps.db;
  const row = await findSealedRow(prisma, eventId, wanted);
  if (row === undefined) throw notFound('history row');
  const leaf = await findLeaf(prisma, row.historyId);
  if (leaf === undefined) throw notSealed('The row waits to be sealed.');
  let head = await findNewestHead(prisma, eventId);
  if (head === undefined || head.size <= leaf.index) {
    await signHeads(deps, pool);
    head = await findNewestHead(prisma, eventId);
  }
  if (head === undefined || head.size <= leaf.index) throw notSealed('The head over the row is not signed yet.');
  const levels = await treeOf(deps, eventId, head.size);
  return {
    eventId,
    historyId: row.historyId,
    content: contentOf(row),
    hash: row.hash,
    index: leaf.index,
    leafHash: hex(leaf.leafHash),
    proof: inclusionProof(levels, leaf.index).map(hex),
    head,
  };
}

/**
 * Proves that the history at one size is the beginning of the history at another.
 *
 * @param sizes `second` absent: that of the newest signed head
 * @throws ProblemError `not-sealed` when there are not that many rows
 */
async function proveHeads(
  deps: Deps,
  eventId: string,
  sizes: { first: number; second?: number | undefined },
): Promise<HeadsProof> {
  const second = sizes.second ?? (await findNewestHead(deps.db.prisma, eventId))?.size ?? 0;
  if (sizes.first > second) throw notSealed(`The history has no signed head of ${sizes.first} rows or more yet.`);
  const levels = await treeOf(deps, eventId, second);
  const earlier = await runInSlices(levelsOf((levels[0] ?? []).slice(0, sizes.first)));
  return {
    eventId,
    first: { size: sizes.first, root: rootOf(earlier) },
    second: { size: second, root: rootOf(levels) },
    proof: consistencyProof(levels, sizes.first).map(hex),
  };
}

async function treeOf(deps: Deps, eventId: string, size: number): Promise<Levels> {
  const leaves = await listLeafHashes(deps.db.prisma, eventId, size);
  if (leaves.length < size) throw notSealed(`The history has ${leaves.length} sealed rows.`);
  return runInSlices(levelsOf(leaves));
}

const rootOf = (levels: Levels): string => hex(levels.at(-1)?.[0] ?? EMPTY_ROOT);

const notSealed = (detail: string) => new ProblemError('not-sealed', detail, {}, RETRY);

const MAX_ROWS = 2_147_483_647;
const HashView = z.string().describe('SHA-256, hex');
const Proof = z.array(HashView).describe('The hashes of the proof, in their order');

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

const RowProofView = z
  .object({
    eventId: Id,
    historyId: Id.describe('The history row'),
    content: Content.describe('What `hash` covers: SHA-256 over it as canonical JSON (RFC 8785)'),
    hash: HashView.describe("The row's own hash"),
    index: z.int().describe('Place of its leaf, from 0'),
    leafHash: HashView.describe('SHA-256 over the byte 0x00 and the 32 bytes of `hash`'),
    proof: Proof,
    head: z
      .object({
        size: z.int().describe('Leaves under it'),
        root: HashView.describe('What leaf and proof come to'),
        at: InstantOut.describe('When it was signed'),
        kid: z.string().describe('The key that signed it, at `/.well-known/history-keys.json`'),
        jws: z.string().describe('The head as a compact JWS; its payload has `eventId`, `size`, `root` and `at`'),
      })
      .describe('The newest signed head'),
  })
  .meta({ id: 'HistoryProof' });

const Size = z.object({
  size: z.int().describe('Leaves under it'),
  root: HashView.describe('Root of the tree over them'),
});
const HeadsProofView = z
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
    success: { 200: { description: 'The row and its proof', schema: RowProofView, example: ROW_EXAMPLE } },
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
    success: { 200: { description: 'Both heads and the proof', schema: HeadsProofView, example: HEADS_EXAMPLE } },
    problems: ['not-found', 'not-sealed'],
    handle: async ({ params, query }) => {
      await assertEvent(params.eventId);
      return { status: 200, body: await proveHeads(deps, params.eventId, query) };
    },
  });
}
