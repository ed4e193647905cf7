import type { FastifyInstance } from 'fastify';
import type { Deps } from '../deps.ts';
import { calculationRoutes } from './calculations/routes.ts';
import { auditProofRoutes } from './audit/proof-routes.ts';
import { auditRoutes } from './audit/routes.ts';
import { catalogueRoutes } from './catalogue/routes.ts';
import { concessionRoutes } from './concessions/routes.ts';
import { conditionRoutes } from './conditions/routes.ts';
import { enrolmentRoutes } from './enrolments/routes.ts';
import { entryCsvRoutes, importRoutes } from './entries/csv-routes.ts';
import { entryRoutes } from './entries/routes.ts';
import { eventPreviewRoutes } from './events/preview-routes.ts';
import { eventRoutes } from './events/routes.ts';
import { explanationRoutes } from './explanations/routes.ts';
import { gateRoutes } from './gate/routes.ts';
import { gateSnapshotRoutes } from './gate/snapshot-routes.ts';
import { gateUploadRoutes } from './gate/upload-routes.ts';
import { historyRoutes } from './history/routes.ts';
import { holdRoutes } from './holds/routes.ts';
import { inspectionRoutes } from './inspections/routes.ts';
import { lineRoutes } from './line/routes.ts';
import { metricsRoutes } from './metrics/routes.ts';
import { pageRoutes } from './pages/routes.ts';
import { personalDataRoutes } from './personal-data/routes.ts';
import { photoRoutes } from './photos/routes.ts';
import { rejudgementRoutes } from './rejudgements/routes.ts';
import { resolvedRulesRoutes } from './resolved-rules/routes.ts';
import { readinessRoutes } from './readiness/routes.ts';
import { ruleSetRoutes } from './rule-sets/routes.ts';
import { ruleSetVersionRoutes } from './rule-sets/version-routes.ts';
import { runGroupPreviewRoutes } from './run-groups/preview-routes.ts';
import { runGroupRoutes } from './run-groups/routes.ts';
import { serviceRoutes } from './service/routes.ts';
import { historyKeyRoutes, keySetRoutes, signingRoutes } from './signing/routes.ts';
import { streamRoutes } from './stream/routes.ts';
import { tokenRoutes } from './tokens/routes.ts';
import { trialRoutes } from './trials/routes.ts';
import { venueOverlayRoutes } from './venue-overlays/routes.ts';
import { vehicleRoutes } from './vehicles/routes.ts';
import { venueRoutes } from './venues/routes.ts';
import { webhookDeliveryRoutes } from './webhooks/delivery-routes.ts';
import { webhookRoutes } from './webhooks/routes.ts';
import { withdrawalRoutes } from './withdrawals/routes.ts';

type Routes = (app: FastifyInstance, deps: Deps) => Promise<void>;

const V1: readonly Routes[] = [
  tokenRoutes,
  enrolmentRoutes,
  catalogueRoutes,
  venueRoutes,
  eventRoutes,
  eventPreviewRoutes,
  runGroupRoutes,
  runGroupPreviewRoutes,
  ruleSetRoutes,
  ruleSetVersionRoutes,
  trialRoutes,
  venueOverlayRoutes,
  resolvedRulesRoutes,
  rejudgementRoutes,
  entryRoutes,
  entryCsvRoutes,
  importRoutes,
  vehicleRoutes,
  inspectionRoutes,
  explanationRoutes,
  photoRoutes,
  lineRoutes,
  readinessRoutes,
  holdRoutes,
  conditionRoutes,
  concessionRoutes,
  withdrawalRoutes,
  historyRoutes,
  personalDataRoutes,
  auditRoutes,
  auditProofRoutes,
  streamRoutes,
  gateRoutes,
  gateSnapshotRoutes,
  gateUploadRoutes,
  signingRoutes,
  webhookRoutes,
  webhookDeliveryRoutes,
  calculationRoutes,
];

/** Mounts every feature. A feature that is not listed here does not exist. */
export async function registerFeatures(app: FastifyInstance, deps: Deps): Promise<void> {
  await metricsRoutes(app, deps);
  await serviceRoutes(app, deps);
  await keySetRoutes(app, deps);
  await historyKeyRoutes(app, deps);
  await pageRoutes(app, deps);
  await app.register(
    async (v1) => {
      for (const routes of V1) await routes(v1, deps);
    },
    { prefix: '/v1' },
  );
}
