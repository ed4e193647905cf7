import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../../deps.ts';
import { STAFF } from '../../../domain/actor.ts';
import { entryParams } from '../../../http/frame/common-schemas.ts';
import { baseAddress } from '../../../http/frame/error-handler.ts';
import { addRoute } from '../../../http/frame/route.ts';
import {
  LINK_EXAMPLE,
  MAKE_EXAMPLE,
  NEW_LINK_EXAMPLE,
  OPEN_EXAMPLE,
  OPENED_EXAMPLE,
  TOKEN_EXAMPLE,
} from './examples.ts';
import { endShopLink, listShopLinks, makeShopLink, openShop, renewShopToken } from './links.ts';
import {
  MakeShopLink,
  NewShopLink,
  OpenedShop,
  OpenShop,
  shopLinkParams,
  ShopLinks,
  shopParams,
  ShopToken,
} from './schemas.ts';

/** How an owner gives an entry to a shop, and how a shop comes to its page. */
export async function shopLinkRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'POST',
    path: '/entries/:entryId/shop-links',
    neverCompressed: true,
    shownOnce: true,
    operationId: 'makeShopLink',
    summary: 'Give an entry to the shop that prepares the car',
    description:
      'Send `url` to the shop. It answers and signs its part; submitting stays with the owner. It sees this entry alone, without what only the driver can say, until a week after the event or until the link is ended.',
    tag: 'Shops',
    access: ['entrant'],
    params: entryParams,
    body: MakeShopLink,
    bodyExample: MAKE_EXAMPLE,
    success: { 201: { description: 'The link, its code shown once', schema: NewShopLink, example: NEW_LINK_EXAMPLE } },
    problems: ['not-found', 'state-moved-on', 'not-acceptable'],
    handle: async ({ params, body, actor, request }) => ({
      status: 201,
      body: await makeShopLink(deps, actor, { ...params, body, base: baseAddress(request), requestId: request.id }),
    }),
  });
  addRoute(app, {
    method: 'GET',
    path: '/entries/:entryId/shop-links',
    operationId: 'listShopLinks',
    summary: 'List the shops that an entry was given to',
    description: 'With what each has signed. The codes cannot be read again.',
    tag: 'Shops',
    access: [...STAFF, 'entrant'],
    params: entryParams,
    success: { 200: { description: 'Newest first', schema: ShopLinks, example: { links: [LINK_EXAMPLE] } } },
    problems: ['not-found'],
    handle: async ({ params }) => ({ status: 200, body: await listShopLinks(deps, params.entryId) }),
  });
  addRoute(app, {
    method: 'DELETE',
    path: '/entries/:entryId/shop-links/:shopLinkId',
    operationId: 'endShopLink',
    summary: 'Take an entry back from a shop',
    description:
      'It sees nothing of it from then on. What it signed stays said by it; what it has not signed is gone. Doing it again is the same as once.',
    tag: 'Shops',
    access: ['organizer', 'entrant'],
    params: shopLinkParams,
    success: { 204: { description: 'The shop does not see the entry any more' } },
    problems: ['not-found', 'state-moved-on'],
    handle: async ({ params, actor, request }) => {
      await endShopLink(deps, actor, { ...params, requestId: request.id });
      return { status: 204 };
    },
  });
  addShopRoutes(app, deps);
}

function addShopRoutes(app: FastifyInstance, deps: Deps): void {
  addRoute(app, {
    method: 'POST',
    path: '/shops',
    neverCompressed: true,
    operationId: 'openShop',
    summary: 'Open a shop with the first car it is given',
    description:
      'Needs no token but the code of a link, which works once. A shop that there is already takes further cars with `takeShopCar`. Unknown codes count like requests without a valid token.',
    tag: 'Shops',
    access: 'public',
    body: OpenShop,
    bodyExample: OPEN_EXAMPLE,
    success: { 201: { description: 'The shop, its token shown once', schema: OpenedShop, example: OPENED_EXAMPLE } },
    problems: ['unauthenticated', 'enrolment-used', 'enrolment-expired', 'state-moved-on', 'not-found'],
    handle: async ({ body, request }) => ({
      status: 201,
      body: await openShop(deps, { ...body, requestId: request.id }),
    }),
  });
  addRoute(app, {
    method: 'POST',
    path: '/shops/:shopId/token',
    neverCompressed: true,
    shownOnce: true,
    operationId: 'renewShopToken',
    summary: 'Make a new token of the shop',
    description: 'All others of the shop end: for another device, and where one was lost.',
    tag: 'Shops',
    access: ['shop'],
    params: shopParams,
    success: { 201: { description: 'The token, shown once', schema: ShopToken, example: TOKEN_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params, actor }) => ({ status: 201, body: await renewShopToken(deps, actor, params.shopId) }),
  });
}
