import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../deps.ts';
import { type Actor, STAFF } from '../../domain/actor.ts';
import { addRoute } from '../../http/frame/route.ts';
import { hashToken, newToken } from '../../http/access/auth.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import { inTransaction } from '../../platform/database/db.ts';
import { assertOwn, changeFacts, readFactsOfCar } from './facts.ts';
import {
  CarFactsView,
  CarLink,
  CarLinks,
  carParams,
  CHANGE_EXAMPLE,
  ChangeFacts,
  EndedLinks,
  FACTS_EXAMPLE,
  LINK_EXAMPLE,
  MakeCarLink,
} from './schemas.ts';
import { endLinks, findCar, insertLink, listLinks } from './store.ts';

/** How long a link works: from one season into the one after the next. Whoever has it may make a new one before. */
const LINK_DAYS = 730;
const DAY_MS = 86_400_000;

const view = (row: { id: string; holder: string; createdAt: Date; expiresAt: Date | null }) => ({
  tokenId: row.id,
  holder: row.holder,
  createdAt: row.createdAt.toISOString(),
  // links always have an end: see `insertLink`
  expiresAt: (row.expiresAt ?? row.createdAt).toISOString(),
});

/**
 * Makes a link of the car. A holder has one at a time; `sold` ends those of everybody. An entrant makes one of the car of the
 * own entry, and only in the own name.
 *
 * @throws ProblemError `not-found`, `not-acceptable` (another's name)
 */
async function makeLink(
  deps: Deps,
  actor: Actor,
  { vehicleId, holder, sold }: MakeCarLink & { vehicleId: string },
): Promise<CarLink> {
  const now = deps.clock.now();
  return inTransaction(deps.db.prisma, async (tx) => {
    await assertOwn(tx, actor, vehicleId);
    if (actor.role === 'entrant' && (holder !== actor.name || sold)) throw notYours(actor.name);
    if ((await findCar(tx, vehicleId)) === undefined) throw notFound('vehicle');
    await endLinks(tx, vehicleId, now, sold ? undefined : holder);
    const token = newToken();
    const expiresAt = new Date(now.getTime() + LINK_DAYS * DAY_MS);
    const made = await insertLink(tx, {
      vehicleId,
      holder,
      hash: hashToken(token),
      createdBy: actor.tokenId,
      at: now,
      expiresAt,
    });
    return { ...view(made), token };
  });
}

const notYours = (name: string): ProblemError =>
  new ProblemError(
    'not-acceptable',
    'Make it in your own name. A car that was sold gets its new link from its owner or the organizer.',
    { errors: [{ pointer: '/holder', code: 'not-yours', detail: `Your name here is ${name}.`, in: 'body' }] },
  );

/** @throws ProblemError `not-found` */
async function listLinksOfCar(deps: Deps, vehicleId: string) {
  const db = deps.db.prisma;
  if ((await findCar(db, vehicleId)) === undefined) throw notFound('vehicle');
  return { links: (await listLinks(db, vehicleId, deps.clock.now())).map(view) };
}

/** Ends every link of the car; doing it again is the same as once. @throws ProblemError `not-found` */
async function endLinksOfCar(deps: Deps, vehicleId: string): Promise<{ ended: number }> {
  const db = deps.db.prisma;
  if ((await findCar(db, vehicleId)) === undefined) throw notFound('vehicle');
  return { ended: await endLinks(db, vehicleId, deps.clock.now()) };
}

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
