import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../deps.ts';
import { STAFF } from '../../domain/actor.ts';
import { addRoute } from '../../http/frame/route.ts';
import { readVehicleRecords } from './vehicle-records.ts';
import { RECORDS_EXAMPLE, VehicleRecords, vehicleParams } from './vehicle-schemas.ts';

/** Vehicles: what is known of a car across events. */
export async function vehicleRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'GET',
    path: '/vehicles/:vehicleId/records',
    operationId: 'getVehicleRecords',
    summary: 'Read what was measured and serviced on a car, event by event',
    description:
      'A car keeps its records across events when it is entered again with its `vehicleId`. An entrant reads the records of the car of the own entry, the link of a car those of that car.',
    tag: 'Entries',
    access: [...STAFF, 'entrant', 'owner'],
    params: vehicleParams,
    success: { 200: { description: 'Newest event first', schema: VehicleRecords, example: RECORDS_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params, actor }) => ({
      status: 200,
      body: await readVehicleRecords(deps, actor, params.vehicleId),
    }),
  });
}
