import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../../deps.ts';
import { IfMatch } from '../../../http/frame/common-schemas.ts';
import {
  ACCEPT_LANGUAGE,
  AcceptLanguage,
  etagOf,
  LANGUAGE_DOCUMENTED,
  languageHeaders,
} from '../../../http/frame/headers.ts';
import { addRoute } from '../../../http/frame/route.ts';
import { FORM_EXAMPLE, FormView } from '../form-schema.ts';
import { DraftView } from '../schemas.ts';
import { listShopCars, readShopCar, saveShopAnswers, signShopAnswers } from './cars.ts';
import {
  ANSWERS_EXAMPLE,
  CAR_EXAMPLE,
  ORDER_EXAMPLE,
  SAVED_EXAMPLE,
  SIGNED_EXAMPLE,
  TAKE_EXAMPLE,
} from './examples.ts';
import { takeCar } from './links.ts';
import {
  SaveShopAnswers,
  ShopCar,
  shopCarParams,
  ShopCars,
  shopParams,
  SignAnswers,
  SignedAnswers,
  TakeCar,
  WorkOrderView,
} from './schemas.ts';

const WholeCar = z
  .object({
    car: ShopCar.describe('As in the list'),
    form: FormView.describe(
      'The form of its entry, as far as the shop answers it, with the answers of owner and shop together; `draftRev` is the version of what the shop has answered',
    ),
    order: WorkOrderView.describe('What is to be done, from the findings'),
  })
  .meta({ id: 'ShopCarWhole' });

const common = { tag: 'Shops', access: ['shop'] } as const;
const carPath = '/shops/:shopId/cars/:shopLinkId';

/** The cars of a shop: what is open, its answers, and its signature. */
export async function shopCarRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    ...common,
    method: 'POST',
    path: '/shops/:shopId/cars',
    operationId: 'takeShopCar',
    summary: 'Take a car that an owner has sent a link of',
    description: 'The code works once. Taking the same car again is the same as once.',
    params: shopParams,
    headers: AcceptLanguage,
    body: TakeCar,
    bodyExample: TAKE_EXAMPLE,
    success: {
      201: { description: 'The car', schema: ShopCar, headers: { Location: 'The car' }, example: CAR_EXAMPLE },
    },
    problems: ['not-found', 'not-acceptable', 'enrolment-used', 'enrolment-expired', 'state-moved-on'],
    handle: async ({ params, body, headers: accepts, actor, request }) => {
      const { shopId } = params;
      const shopLinkId = await takeCar(deps, actor, { shopId, code: body.code, requestId: request.id });
      const { car } = await readShopCar(deps, { shopId, shopLinkId, accepts });
      return { status: 201, body: car, headers: { location: `/v1/shops/${shopId}/cars/${shopLinkId}` } };
    },
  });
  addRoute(app, {
    ...common,
    method: 'GET',
    path: '/shops/:shopId/cars',
    operationId: 'listShopCars',
    summary: 'List the cars of the shop, across events',
    description: 'State, what is open, what to order and by when.',
    params: shopParams,
    headers: AcceptLanguage,
    success: {
      200: { description: 'In order of their dates', schema: ShopCars, example: { cars: [CAR_EXAMPLE] } },
    },
    problems: ['not-found'],
    handle: async ({ params, headers }) => ({ status: 200, body: await listShopCars(deps, params.shopId, headers) }),
  });
  addRoute(app, {
    ...common,
    method: 'GET',
    path: carPath,
    operationId: 'getShopCar',
    summary: 'Read a car of the shop: its form and its work order',
    description:
      'What the owner gave the shop of it: nothing of other parts, and nothing that only the driver can say.',
    params: shopCarParams,
    headers: AcceptLanguage,
    success: {
      200: {
        description: 'The car; the ETag is the version of what the shop has answered',
        schema: WholeCar,
        headers: { ETag: 'Version of what the shop has answered', ...LANGUAGE_DOCUMENTED },
        example: { car: CAR_EXAMPLE, form: FORM_EXAMPLE, order: ORDER_EXAMPLE },
      },
    },
    problems: ['not-found'],
    handle: async ({ params, headers }) => {
      const { language, ...body } = await readShopCar(deps, { ...params, accepts: headers });
      return { status: 200, body, headers: { etag: etagOf(body.form.draftRev), ...languageHeaders(language) } };
    },
  });
  addAnswerRoutes(app, deps);
}

function addAnswerRoutes(app: FastifyInstance, deps: Deps): void {
  addRoute(app, {
    ...common,
    method: 'PUT',
    path: `${carPath}/answers`,
    operationId: 'saveShopAnswers',
    summary: 'Save what the shop has answered and read the findings so far',
    description:
      'Replaces what the shop has answered and not signed; the owner’s declaration stays as it is. `If-Match` is the ETag of the car or of the last save. Answers with what the rules say otherwise than before.',
    params: shopCarParams,
    headers: IfMatch.extend(ACCEPT_LANGUAGE),
    body: SaveShopAnswers,
    bodyExample: ANSWERS_EXAMPLE,
    success: {
      200: {
        description: 'Saved, and what the rules say so far',
        schema: DraftView,
        headers: { ETag: 'Version of what the shop has answered' },
        example: SAVED_EXAMPLE,
      },
    },
    problems: ['not-found', 'answers-not-acceptable', 'precondition-required', 'precondition-failed'],
    handle: async ({ params, headers, body }) => {
      const ifMatch = headers['if-match'];
      const saved = await saveShopAnswers(deps, { ...params, ifMatch, answers: body.answers, accepts: headers });
      return { status: 200, bodyText: JSON.stringify(saved), headers: { etag: etagOf(saved.draftRev) } };
    },
  });
  addRoute(app, {
    ...common,
    method: 'POST',
    path: `${carPath}/signatures`,
    operationId: 'signShopAnswers',
    summary: 'Sign what the shop has answered',
    description:
      'From now on these answers stand in the owner’s draft, said by whoever signed, until the owner changes one. `If-Match` names what was looked at. The owner submits; the shop never does. Whoever signed does not inspect this car.',
    params: shopCarParams,
    headers: IfMatch,
    body: SignAnswers,
    bodyExample: { name: 'Ada Quist' },
    success: {
      201: {
        description: 'Signed',
        schema: SignedAnswers,
        headers: { ETag: 'Version of what the shop has answered: nothing now' },
        example: SIGNED_EXAMPLE,
      },
    },
    problems: ['not-found', 'precondition-required', 'precondition-failed', 'state-moved-on', 'not-acceptable'],
    handle: async ({ params, headers, body, actor, request }) => {
      const signing = { ...params, ...body, ifMatch: headers['if-match'], requestId: request.id };
      const { signed, rev } = await signShopAnswers(deps, actor, signing);
      return { status: 201, body: signed, headers: { etag: etagOf(rev) } };
    },
  });
}
