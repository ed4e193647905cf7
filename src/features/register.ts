import type { FastifyInstance } from 'fastify';
import type { Deps } from '../deps.ts';
import { catalogueRoutes } from './catalogue/routes.ts';
import { concessionRoutes } from './concessions/routes.ts';
import { conditionRoutes } from './conditions/routes.ts';
import { entryCsvRoutes } from './entries/csv-routes.ts';
import { entryRoutes } from './entries/routes.ts';
import { eventRoutes } from './events/routes.ts';
import { gateRoutes } from './gate/routes.ts';
import { historyRoutes } from './history/routes.ts';
import { holdRoutes } from './holds/routes.ts';
import { inspectionRoutes } from './inspections/routes.ts';
import { lineRoutes } from './line/routes.ts';
import { ruleSetRoutes } from './rule-sets/routes.ts';
import { ruleSetVersionRoutes } from './rule-sets/version-routes.ts';
import { runGroupRoutes } from './run-groups/routes.ts';
import { serviceRoutes } from './service/routes.ts';
import { tokenRoutes } from './tokens/routes.ts';
import { venueRoutes } from './venues/routes.ts';
import { withdrawalRoutes } from './withdrawals/routes.ts';

type Routes = (app: FastifyInstance, deps: Deps) => Promise<void>;

const V1: readonly Routes[] = [
  tokenRoutes,
  catalogueRoutes,
  venueRoutes,
  eventRoutes,
  runGroupRoutes,
  ruleSetRoutes,
  ruleSetVersionRoutes,
  entryRoutes,
  entryCsvRoutes,
  inspectionRoutes,
  lineRoutes,
  holdRoutes,
  conditionRoutes,
  concessionRoutes,
  withdrawalRoutes,
  historyRoutes,
  gateRoutes,
];

/** Mounts every feature. A feature that is not listed here does not exist. */
export async function registerFeatures(app: FastifyInstance, deps: Deps): Promise<void> {
  await serviceRoutes(app, deps);
  await app.register(
    async (v1) => {
      for (const routes of V1) await routes(v1, deps);
    },
    { prefix: '/v1' },
  );
}
