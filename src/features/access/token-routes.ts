import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { Id } from '../../http/frame/common-schemas.ts';
import { decodeCursor, toPage } from '../../http/frame/cursor.ts';
import { addRoute } from '../../http/frame/route.ts';
import { bindToken, mintToken, revokeToken } from './tokens.ts';
import {
  BindToken,
  MintedToken,
  MintToken,
  OwnToken,
  TokenList,
  tokenParams,
  tokenQuery,
  TokenView,
} from './token-schemas.ts';
import { listTokens } from './token-store.ts';

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
