import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { STAFF } from '../../domain/actor.ts';
import { CAUTIONS } from '../../domain/cautions.ts';
import { Id } from '../../http/frame/common-schemas.ts';
import { addRoute } from '../../http/frame/route.ts';
import {
  dropKept,
  endShare,
  KeepCalculation,
  keepCalculation,
  KeptView,
  listKeptOf,
  readInputs,
  readShared,
  SharedView,
  shareKept,
} from './kept.ts';

const carParams = z.strictObject({ vehicleId: Id });
const keptParams = z.strictObject({ vehicleId: Id, keptId: Id });
const KEEPERS = ['organizer', 'chief', 'inspector', 'entrant', 'owner'] as const;

const BODY = { code: '2324', onDay: '2026-06-13' };
const KEPT_EXAMPLE: KeptView = {
  keptId: '019ab8f0-0000-7000-8000-0000000000e7',
  name: 'tyre-age',
  body: BODY,
  keptBy: 'owner',
  keptAt: '2026-06-10T08:00:00.000Z',
  isShared: false,
};
const SHARED_EXAMPLE = {
  name: 'tyre-age',
  keptAt: '2026-06-10T08:00:00.000Z',
  body: BODY,
  worked: { name: 'tyre-age', result: { ageMonths: 24, standing: 'within-limits' } },
  caution: CAUTIONS.general.text,
};
const SECRET_EXAMPLE = 'gw_example-of-a-secret-that-does-not-work';

const Secret = z.strictObject({ secret: z.string().min(20).max(200).describe('The secret of the link') });

/** Computations of a car: what of them is known, what was kept, and who else may see it. */
export async function keptCalculationRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  const common = { tag: 'Calculations', params: carParams } as const;
  addRoute(app, {
    ...common,
    method: 'GET',
    path: '/vehicles/:vehicleId/calculation-inputs',
    operationId: 'getCalculationInputs',
    summary: 'What of each computation is known of a car',
    description:
      'Parts of bodies to begin with: from the record of the car, and with `entryId` from the venue, the saved answers and earlier readings. The link of a car gives its record only. Nothing is assumed.',
    access: [...STAFF, 'entrant', 'owner'],
    query: z.strictObject({ entryId: Id.optional().describe('An entry of this car') }),
    success: {
      200: {
        description: 'By name of the computation; one of which nothing is known is not there',
        schema: z
          .object({
            inputs: z.record(z.string(), z.record(z.string(), z.unknown())).describe('Parts of bodies'),
          })
          .meta({ id: 'CalculationInputs' }),
        example: { inputs: { 'tyre-age': BODY } },
      },
    },
    problems: ['not-found'],
    handle: async ({ params, query, actor }) => ({
      status: 200,
      body: await readInputs(deps, actor, { ...params, ...query }),
    }),
  });
  addRoute(app, {
    ...common,
    method: 'GET',
    path: '/vehicles/:vehicleId/calculations',
    operationId: 'listKeptCalculations',
    summary: 'List the computations that were kept with a car',
    description: 'What was asked, not what came out: that is worked out anew.',
    access: [...STAFF, 'entrant', 'owner'],
    success: {
      200: {
        description: 'Newest first',
        schema: z.object({ kept: z.array(KeptView).describe('Newest first') }).meta({ id: 'KeptCalculations' }),
        example: { kept: [KEPT_EXAMPLE] },
      },
    },
    problems: ['not-found'],
    handle: async ({ params, actor }) => ({ status: 200, body: await listKeptOf(deps, actor, params.vehicleId) }),
  });
  addRoute(app, {
    ...common,
    method: 'POST',
    path: '/vehicles/:vehicleId/calculations',
    operationId: 'keepCalculation',
    summary: 'Keep a computation with a car',
    description: 'What was asked is kept; what comes out is worked out when it is shown. It must be computable.',
    access: KEEPERS,
    body: KeepCalculation,
    bodyExample: { name: 'tyre-age', body: BODY },
    success: { 201: { description: 'What was kept', schema: KeptView, example: KEPT_EXAMPLE } },
    problems: ['not-found', 'not-acceptable', 'calculation-refused'],
    handle: async ({ params, body, actor }) => ({
      status: 201,
      body: await keepCalculation(deps, actor, { ...params, ...body }),
    }),
  });
  addKeptRoutes(app, deps);
  addSharedRoute(app, deps);
}

function addKeptRoutes(app: FastifyInstance, deps: Deps): void {
  const common = { tag: 'Calculations', params: keptParams, access: KEEPERS, problems: ['not-found'] } as const;
  addRoute(app, {
    ...common,
    method: 'DELETE',
    path: '/vehicles/:vehicleId/calculations/:keptId',
    operationId: 'dropKeptCalculation',
    summary: 'Take a kept computation away',
    description: 'Its link ends with it.',
    success: { 204: { description: 'It is gone' } },
    handle: async ({ params, actor }) => {
      await dropKept(deps, actor, params);
      return { status: 204 };
    },
  });
  addRoute(app, {
    ...common,
    method: 'POST',
    path: '/vehicles/:vehicleId/calculations/:keptId/link',
    neverCompressed: true,
    shownOnce: true,
    operationId: 'shareKeptCalculation',
    summary: 'Make a link that shows a kept computation to whoever has it',
    description: 'It shows this computation and nothing of the car. Making it again ends the one before.',
    success: {
      201: {
        description: 'The secret of the link, shown once',
        schema: Secret.meta({ id: 'CalculationLink' }),
        example: { secret: SECRET_EXAMPLE },
      },
    },
    handle: async ({ params, actor }) => ({ status: 201, body: await shareKept(deps, actor, params) }),
  });
  addRoute(app, {
    ...common,
    method: 'DELETE',
    path: '/vehicles/:vehicleId/calculations/:keptId/link',
    operationId: 'endKeptCalculationLink',
    summary: 'End the link of a kept computation',
    description: 'Doing it again is the same as once.',
    success: { 204: { description: 'No link shows it' } },
    handle: async ({ params, actor }) => {
      await endShare(deps, actor, params);
      return { status: 204 };
    },
  });
}

function addSharedRoute(app: FastifyInstance, deps: Deps): void {
  addRoute(app, {
    tag: 'Calculations',
    method: 'POST',
    path: '/shared-calculations',
    operationId: 'readSharedCalculation',
    summary: 'Read the computation that a link shows',
    description:
      'Needs no token: the secret of the link goes in the body, so that no log has it. Unknown secrets count like requests without a valid token.',
    access: 'public',
    body: Secret,
    bodyExample: { secret: SECRET_EXAMPLE },
    success: {
      200: { description: 'What was asked, and what comes out', schema: SharedView, example: SHARED_EXAMPLE },
    },
    problems: ['unauthenticated'],
    handle: async ({ body }) => ({ status: 200, body: await readShared(deps, body.secret) }),
  });
}
