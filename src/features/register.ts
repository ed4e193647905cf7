import type { FastifyInstance } from 'fastify';
import type { Deps } from '../deps.ts';
import { auditProofRoutes } from './history/proofs.ts';
import { auditRoutes, historyRoutes } from './history/routes.ts';
import { keptCalculationRoutes } from './calculations/kept-routes.ts';
import { calculationRoutes } from './calculations/routes.ts';
import { carRoutes } from './cars/routes.ts';
import { catalogueRoutes } from './declare/questions.ts';
import { concessionRoutes, holdRoutes, logRoutes } from './decide/routes.ts';
import { conditionRoutes } from './line/condition-routes.ts';
import { enrolmentRoutes } from './access/enrolments.ts';
import { entryCsvRoutes, importRoutes } from './entries/import/csv-routes.ts';
import { exportRoutes } from './entries/export/routes.ts';
import { listFileRoutes } from './entries/list/routes.ts';
import { calendarRoutes } from './entries/calendar.ts';
import { countdownRoutes } from './entries/countdown.ts';
import { entryRoutes, withdrawalRoutes } from './entries/routes.ts';
import { eventPreviewRoutes, eventRoutes } from './set-up/event-routes.ts';
import { explanationRoutes } from './declare/explain.ts';
import { gateRoutes, gateSnapshotRoutes } from './gate/routes.ts';
import { gateUploadRoutes } from './gate/upload.ts';
import { inspectionRoutes } from './declare/routes.ts';
import { lifeRoutes } from './set-up/life/routes.ts';
import { limitRoutes } from './rules/limits.ts';
import { learnedRoutes } from './line/learned.ts';
import { lineRoutes } from './line/routes.ts';
import { linePlanRoutes } from './line/times/routes.ts';
import { mailRoutes, mailStopRoutes } from './notify/mail/routes.ts';
import { mailTemplateRoutes } from './notify/mail/template-routes.ts';
import { metricsRoutes } from './service/metrics.ts';
import { pageRoutes } from './service/app-pages.ts';
import { paperRoutes } from './office/paper/routes.ts';
import { personalDataRoutes } from './personal-data/routes.ts';
import { photoRoutes } from './declare/photos/routes.ts';
import { entryRecordRoutes } from './office/record.ts';
import { readinessRoutes } from './office/readiness.ts';
import { rejudgementRoutes } from './rules/trials/rejudge.ts';
import { resolvedRulesRoutes } from './rules/resolved.ts';
import { ruleSetRoutes } from './rules/rule-set-routes.ts';
import { ruleSetVersionRoutes } from './rules/version-routes.ts';
import { runGroupPreviewRoutes, runGroupRoutes, timetableRoutes } from './set-up/run-group-routes.ts';
import { serverRoutes } from './service/server-routes.ts';
import { healthRoutes } from './service/health.ts';
import { serviceRoutes } from './service/routes.ts';
import { historyKeyRoutes, keySetRoutes, signingRoutes } from './gate/keys.ts';
import { setUpRoutes } from './office/set-up.ts';
import { shopCarRoutes } from './declare/shop/car-routes.ts';
import { shopLinkRoutes } from './declare/shop/link-routes.ts';
import { signInRoutes } from './access/sign-in.ts';
import { streamRoutes } from './notify/streams.ts';
import { tokenRoutes } from './access/token-routes.ts';
import { trackRoutes } from './set-up/track/wet-track.ts';
import { trialRoutes } from './rules/trials/trial-routes.ts';
import { vehicleRoutes } from './entries/vehicle-records.ts';
import { venueOverlayRoutes } from './rules/overlay-routes.ts';
import { venueRoutes } from './set-up/venue-routes.ts';
import { webhookDeliveryRoutes, webhookRoutes } from './notify/webhook-routes.ts';

type Routes = (app: FastifyInstance, deps: Deps) => Promise<void>;

const V1: readonly Routes[] = [
  tokenRoutes,
  enrolmentRoutes,
  catalogueRoutes,
  venueRoutes,
  eventRoutes,
  eventPreviewRoutes,
  runGroupRoutes,
  timetableRoutes,
  runGroupPreviewRoutes,
  lifeRoutes,
  trackRoutes,
  ruleSetRoutes,
  ruleSetVersionRoutes,
  trialRoutes,
  venueOverlayRoutes,
  resolvedRulesRoutes,
  limitRoutes,
  rejudgementRoutes,
  entryRoutes,
  calendarRoutes,
  countdownRoutes,
  entryCsvRoutes,
  importRoutes,
  listFileRoutes,
  exportRoutes,
  paperRoutes,
  vehicleRoutes,
  carRoutes,
  inspectionRoutes,
  explanationRoutes,
  shopLinkRoutes,
  shopCarRoutes,
  photoRoutes,
  lineRoutes,
  learnedRoutes,
  linePlanRoutes,
  readinessRoutes,
  entryRecordRoutes,
  setUpRoutes,
  holdRoutes,
  logRoutes,
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
  mailRoutes,
  mailTemplateRoutes,
  calculationRoutes,
  keptCalculationRoutes,
  serverRoutes,
];

/** Mounts what a process that only runs jobs says of itself: health, readiness, metrics. */
export async function registerWorkerRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  await metricsRoutes(app, deps);
  await healthRoutes(app, deps);
}

/** Mounts every feature. A feature that is not listed here does not exist. */
export async function registerFeatures(app: FastifyInstance, deps: Deps): Promise<void> {
  await metricsRoutes(app, deps);
  await serviceRoutes(app, deps);
  await keySetRoutes(app, deps);
  await historyKeyRoutes(app, deps);
  await mailStopRoutes(app, deps);
  await signInRoutes(app, deps);
  await pageRoutes(app, deps);
  await app.register(
    async (v1) => {
      for (const routes of V1) await routes(v1, deps);
    },
    { prefix: '/v1' },
  );
}
