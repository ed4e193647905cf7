import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../deps.ts';
import { STAFF } from '../../domain/actor.ts';
import { addRoute } from '../../http/frame/route.ts';
import { changeFacts, readFactsOfCar } from './facts.ts';
import { endLinksOfCar, listLinksOfCar, makeLink } from './links.ts';
import {
  carParams,
  CarFactsView,
  CarLink,
  CarLinks,
  CHANGE_EXAMPLE,
  ChangeFacts,
  EndedLinks,
  FACTS_EXAMPLE,
  LINK_EXAMPLE,
  MakeCarLink,
} from './schemas.ts';

/** A car: what is known of it, across events, and the link of its owner. */
export async function carRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  const common = { tag: 'Entries', params: carParams } as const;
  addRoute(app, {
    ...common,
    method: 'GET',
    path: '/vehicles/:vehicleId/facts',
    operationId: 'getCarFacts',
    summary: 'Read what is known of a car, and who said it',
    description: 'The car of the own entry, of the own link, or, for the staff, of an entry of their events.',
    access: [...STAFF, 'entrant', 'owner'],
    success: { 200: { description: 'Every fact of the car', schema: CarFactsView, example: FACTS_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params, actor }) => ({ status: 200, body: await readFactsOfCar(deps, actor, params.vehicleId) }),
  });
  addRoute(app, {
    ...common,
    method: 'PATCH',
    path: '/vehicles/:vehicleId/facts',
    operationId: 'changeCarFacts',
    summary: 'Write facts of a car, or confirm them',
    description:
      'Facts that are not named stay as they are. What an entrant or the link of the car writes is looked at once at the line where a rule hangs on it; what organizers, chiefs and the inspector who has claimed the car write is confirmed. A number that such cars hardly have is refused once (`implausible`) and taken with `again`. Where a rule used what changed, the declaration is void and must be submitted again.',
    access: ['organizer', 'chief', 'inspector', 'entrant', 'owner'],
    body: ChangeFacts,
    bodyExample: CHANGE_EXAMPLE,
    success: { 200: { description: 'The car as it is now', schema: CarFactsView, example: FACTS_EXAMPLE } },
    problems: ['not-found', 'not-acceptable', 'conflict-of-interest'],
    handle: async ({ params, actor, body, request }) => ({
      status: 200,
      body: await changeFacts(deps, actor, { ...params, ...body, requestId: request.id }),
    }),
  });
  addRoute(app, {
    ...common,
    method: 'POST',
    path: '/vehicles/:vehicleId/links',
    operationId: 'makeCarLink',
    summary: 'Make a link of a car for its owner',
    description:
      'A secret of its own: it reads and writes this car across events, and nothing else. It works for two years; a holder has one at a time, so making it again ends the one before. With `sold` those of everybody end.',
    access: ['organizer', 'entrant', 'owner'],
    body: MakeCarLink,
    bodyExample: { holder: 'Ines Haldorsen' },
    success: { 201: { description: 'The link, shown once', schema: CarLink, example: LINK_EXAMPLE } },
    problems: ['not-found', 'not-acceptable'],
    handle: async ({ params, actor, body }) => ({
      status: 201,
      body: await makeLink(deps, actor, { ...params, ...body }),
    }),
  });
  addRoute(app, {
    ...common,
    method: 'GET',
    path: '/vehicles/:vehicleId/links',
    operationId: 'listCarLinks',
    summary: 'List the links of a car that work',
    description: 'Without the secrets, which cannot be read again.',
    access: ['organizer', 'owner'],
    success: {
      200: {
        description: 'Newest first',
        schema: CarLinks,
        example: {
          links: [
            {
              tokenId: LINK_EXAMPLE.tokenId,
              holder: LINK_EXAMPLE.holder,
              createdAt: LINK_EXAMPLE.createdAt,
              expiresAt: LINK_EXAMPLE.expiresAt,
            },
          ],
        },
      },
    },
    problems: ['not-found'],
    handle: async ({ params }) => ({ status: 200, body: await listLinksOfCar(deps, params.vehicleId) }),
  });
  addRoute(app, {
    ...common,
    method: 'DELETE',
    path: '/vehicles/:vehicleId/links',
    operationId: 'endCarLinks',
    summary: 'End every link of a car',
    description: 'Also the one that asks for it. Doing it again is the same as once; the car keeps its facts.',
    access: ['organizer', 'owner'],
    success: { 200: { description: 'How many worked until now', schema: EndedLinks, example: { ended: 1 } } },
    problems: ['not-found'],
    handle: async ({ params }) => ({ status: 200, body: await endLinksOfCar(deps, params.vehicleId) }),
  });
}
