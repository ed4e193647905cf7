import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { Id } from '../../http/frame/common-schemas.ts';
import { decodeCursor, toPage } from '../../http/frame/cursor.ts';
import { addRoute } from '../../http/frame/route.ts';
import { type Actor, OF_EVENTS } from '../../domain/actor.ts';
import { hashToken, newToken } from '../../http/access/auth.ts';
import { notAcceptable, notFound, ProblemError } from '../../http/frame/problem.ts';
import { decisionTime } from '../../platform/clock.ts';
import { inTransaction } from '../../platform/database/db.ts';
import { assertTokenEvents, recordEventsChange } from '../../records/history/event-history.ts';
import { entrantTokenEnd } from '../../records/notify-entrant.ts';
import { releaseClaimsOf } from '../../records/tickets.ts';
import {
  BindToken,
  MintedToken,
  MintToken,
  OwnToken,
  TokenList,
  tokenParams,
  tokenQuery,
  TokenView,
} from './schemas.ts';
import {
  findToken,
  findTokenEntry,
  insertToken,
  listTokens,
  lockLastingOrganizers,
  lockToken,
  replaceTokenEvents,
  updateRevoked,
} from './store.ts';

const DAY_MS = 86_400_000;
/** A token that was asked for is of use for as long, also when the event is over. */
const LEAST_DAYS = 7;

/**
 * Makes a token. Only its hash is stored, so this answer is the one time it can be read.
 *
 * @throws ProblemError `not-acceptable` when the entry or an event does not exist, its person was erased, or the token
 *   would have ended already
 */
async function mintToken(
  deps: Deps,
  actor: Actor,
  { input, requestId }: { input: MintToken; requestId: string },
): Promise<TokenView & { token: string }> {
  const { role, holder, personId, entryId, eventIds } = input;
  const now = deps.clock.now();
  if (eventIds !== undefined) await assertTokenEvents(deps.db.prisma, eventIds, { now });
  const expiresAt = await endOf(deps, input, now);
  const token = newToken();
  const row = {
    role,
    holder,
    personId,
    entryId,
    eventIds,
    expiresAt,
    hash: hashToken(token),
    createdBy: actor.tokenId,
  };
  const minted = await inTransaction(deps.db.prisma, async (tx) => {
    const view = await insertToken(tx, row, now);
    const data = { tokenId: view.tokenId, role, ...(view.endsAt === undefined ? {} : { endsAt: view.endsAt }) };
    const at = await decisionTime(tx, deps.clock);
    await recordEventsChange(tx, eventIds ?? [], { actor, at, action: 'token.minted', data, requestId });
    return view;
  });
  return { ...minted, token };
}

async function endOf(deps: Deps, { entryId, expiresAt }: MintToken, now: Date): Promise<Date | undefined> {
  const chosen = expiresAt === undefined ? undefined : new Date(expiresAt);
  if (chosen !== undefined && chosen <= now) throw refused('/expiresAt', 'past', 'This instant is over.');
  if (entryId === undefined) return chosen;
  const entry = await findTokenEntry(deps.db.prisma, entryId);
  if (entry === undefined) throw refused('/entryId', 'unknown-entry', 'There is no such entry.');
  if (entry.erased) throw refused('/entryId', 'erased-entry', 'The personal data of this entry was erased.');
  return chosen ?? new Date(Math.max(entrantTokenEnd(entry).getTime(), now.getTime() + LEAST_DAYS * DAY_MS));
}

const refused = (pointer: string, code: string, detail: string): ProblemError =>
  notAcceptable([{ pointer, code, detail, in: 'body' }]);

/**
 * Says which events a token of the staff is for, instead of those it was for. From the next request on it works nowhere
 * else. Doing it again is the same as once.
 *
 * @throws ProblemError `not-found`, `not-acceptable` (an event that is over or does not exist; a token that is not for
 *   events, or was revoked)
 */
async function bindToken(
  deps: Deps,
  actor: Actor,
  { tokenId, eventIds, requestId }: { tokenId: string; eventIds: readonly string[]; requestId: string },
): Promise<TokenView> {
  return inTransaction(deps.db.prisma, async (tx) => {
    const token = await lockToken(tx, tokenId);
    if (token === undefined) throw notFound('token');
    const now = await decisionTime(tx, deps.clock);
    if (!OF_EVENTS.includes(token.role)) {
      throw new ProblemError('not-acceptable', `A token of the role ${token.role} is not for named events.`);
    }
    if (token.revoked) throw new ProblemError('not-acceptable', 'This token was revoked: mint a new one.');
    await assertTokenEvents(tx, eventIds, { now });
    const before = (await findToken(tx, tokenId, now))?.events?.map((event) => event.eventId);
    await replaceTokenEvents(tx, tokenId, eventIds);
    // Where it worked and no longer does, and where it works now; one from before worked everywhere.
    const others = [...eventIds, ...(before ?? [])].filter(
      (id) => !eventIds.includes(id) || before?.includes(id) !== true,
    );
    const data = { tokenId, role: token.role, from: before ?? null, to: eventIds };
    await recordEventsChange(tx, others, { actor, at: now, action: 'token.bound', data, requestId });
    const bound = await findToken(tx, tokenId, now);
    if (bound === undefined) throw new Error('a token that is locked cannot go away');
    return bound;
  });
}

/**
 * Revokes a token; from the next request on it is unknown, and cars that it holds at the line wait again.
 * Revoking twice is the same as once.
 *
 * @throws ProblemError `not-found`, `last-organizer-token` when nobody could administer the server afterwards
 */
async function revokeToken(
  deps: Deps,
  actor: Actor,
  { tokenId, requestId }: { tokenId: string; requestId: string },
): Promise<void> {
  await inTransaction(deps.db.prisma, async (tx) => {
    const lasting = await lockLastingOrganizers(tx);
    const now = await decisionTime(tx, deps.clock);
    const token = await findToken(tx, tokenId, now);
    if (token === undefined) throw notFound('token');
    if (lasting.length === 1 && lasting[0] === token.tokenId) {
      throw new ProblemError('last-organizer-token', 'This is the only organizer token that works without an end.');
    }
    await updateRevoked(tx, tokenId, now);
    await releaseClaimsOf(tx, tokenId, { actor, at: now, requestId });
    if (token.revoked) return;
    const live = token.events?.filter(({ endsAt }) => Date.parse(endsAt) > now.getTime()) ?? [];
    const what = { actor, at: now, action: 'token.revoked', data: { tokenId, role: token.role }, requestId };
    await recordEventsChange(
      tx,
      live.map(({ eventId }) => eventId),
      what,
    );
  });
}

const EVENT_ID = '019ab8f0-0000-7000-8000-0000000000d1';
const HELD = { role: 'inspector', holder: 'Ines Varga', personId: 'ARC-1150' } as const;
const MINT = { ...HELD, eventIds: [EVENT_ID] };
const ENDS_AT = '2026-06-15T22:00:00.000Z';
const TOKEN = {
  tokenId: '019ab8f0-0000-7000-8000-0000000000f1',
  ...HELD,
  createdAt: '2026-06-01T08:00:00.000Z',
  events: [{ eventId: EVENT_ID, name: 'Alder Ridge club weekend', endsAt: ENDS_AT }],
  endsAt: ENDS_AT,
};
const LISTED = { ...TOKEN, unbound: false, state: 'live', revoked: false } as const;
const SCOPE = { list: 'listTokens', filters: {} };

/** Tokens: who may call. Organizers only, but for what one's own token is. */
export async function tokenRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  const common = { tag: 'Tokens', access: ['organizer'] } as const;
  addRoute(app, {
    ...common,
    method: 'POST',
    path: '/tokens',
    neverCompressed: true,
    operationId: 'mintToken',
    shownOnce: true,
    summary: 'Mint a token',
    description:
      'The token is shown in this answer only; the server keeps its hash. Tokens of marshals, inspectors and chiefs are for the events that `eventIds` names: what is below others answers as if it were not there, and they end the day after each event, at its venue. From `endsAt` on a token is unknown.',
    body: MintToken,
    bodyExample: MINT,
    success: {
      201: {
        description: 'The token, shown once',
        schema: MintedToken,
        example: { ...TOKEN, token: 'gw_example-of-a-token-that-does-not-work' },
      },
    },
    problems: ['not-acceptable'],
    handle: async ({ actor, body, request }) => ({
      status: 201,
      body: await mintToken(deps, actor, { input: body, requestId: request.id }),
    }),
  });
  addRoute(app, {
    ...common,
    method: 'GET',
    path: '/tokens',
    operationId: 'listTokens',
    summary: 'List tokens',
    description: 'Expired and revoked tokens stay in the list. The tokens themselves cannot be read again.',
    query: tokenQuery,
    success: {
      200: {
        description: 'One page of tokens',
        schema: TokenList,
        headers: { Link: 'The next page, `rel="next"`' },
        example: { tokens: [LISTED] },
      },
    },
    problems: ['cursor-not-valid'],
    handle: async ({ query, request }) => {
      const after = decodeCursor(SCOPE, query.cursor, z.tuple([Id]));
      const now = deps.clock.now();
      const rows = await listTokens(deps.db.prisma, { after: after?.[0], take: query.limit + 1, now });
      const positionOf = (row: { tokenId: string }) => [row.tokenId];
      const page = toPage(rows, { scope: SCOPE, limit: query.limit, url: request.url, positionOf });
      return { status: 200, body: { tokens: page.rows, next: page.next }, headers: page.headers };
    },
  });
  addRoute(app, {
    ...common,
    access: 'any',
    method: 'GET',
    path: '/own-token',
    operationId: 'getOwnToken',
    summary: 'Read what your own token is for',
    description: 'Role, holder, entry and end. It works with any token and changes nothing.',
    success: {
      200: {
        description: 'Role, holder, the entry of an entrant, the events of the staff',
        schema: OwnToken,
        example: { tokenId: TOKEN.tokenId, ...MINT },
      },
    },
    problems: [],
    handle: async ({ actor }) => ({
      status: 200,
      body: {
        tokenId: actor.tokenId,
        role: actor.role,
        holder: actor.name,
        personId: actor.personId,
        entryId: actor.entryId,
        vehicleId: actor.vehicleId,
        shopId: actor.shopId,
        ...(actor.eventIds === undefined ? {} : { eventIds: [...actor.eventIds] }),
      },
    }),
  });
  addRoute(app, {
    ...common,
    method: 'POST',
    path: '/tokens/:tokenId/bind',
    operationId: 'bindToken',
    summary: 'Say which events a token of the staff is for',
    description:
      'Instead of those it was for. It counts from the next request on. Tokens from before tokens were for events (`unbound` in the list) work at every event until this is said.',
    params: tokenParams,
    body: BindToken,
    bodyExample: { eventIds: [EVENT_ID] },
    success: { 200: { description: 'The token as it is now', schema: TokenView, example: LISTED } },
    problems: ['not-found', 'not-acceptable'],
    handle: async ({ params, body, actor, request }) => ({
      status: 200,
      body: await bindToken(deps, actor, { ...params, ...body, requestId: request.id }),
    }),
  });
  addRoute(app, {
    ...common,
    method: 'DELETE',
    path: '/tokens/:tokenId',
    operationId: 'revokeToken',
    summary: 'Revoke a token',
    description:
      'It stops working at once, and cars that it holds at the line wait again. Revoking it again answers the same.',
    params: tokenParams,
    success: { 204: { description: 'Revoked' } },
    problems: ['not-found', 'last-organizer-token'],
    handle: async ({ params, actor, request }) => {
      await revokeToken(deps, actor, { tokenId: params.tokenId, requestId: request.id });
      return { status: 204 };
    },
  });
}
