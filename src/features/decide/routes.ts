import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { STAFF } from '../../domain/actor.ts';
import { entryParams, Id, IdempotencyKey, OptionalIdempotencyKey } from '../../http/frame/common-schemas.ts';
import { findIdempotencyKey, parseIdempotencyKey } from '../../http/frame/idempotency.ts';
import { addRoute } from '../../http/frame/route.ts';
import { decodeCursor, toPage } from '../../http/frame/cursor.ts';
import { notFound } from '../../http/frame/problem.ts';
import { CLEARANCE_EXAMPLE } from '../../http/views/clearance-view.ts';
import { liftHold } from './lift-hold.ts';
import { placeHold } from './place-hold.ts';
import { HOLD_EXAMPLE, holdParams, HoldView, LiftHold, PlaceHold } from './hold-schemas.ts';
import { ACCEPT_LANGUAGE, LANGUAGE_DOCUMENTED, languageHeaders, languageOf } from '../../http/frame/headers.ts';
import { LOG_EXAMPLE, LogInput, LogList, logQuery, viewLog, WrittenLog } from './log-schemas.ts';
import { hasEntry, listLog, type StoredLog } from './store.ts';
import { writeLog } from './write-log.ts';
import { approveConcession, getConcession, grantConcession, listOfEntry, revokeConcession } from './concessions.ts';
import {
  APPROVED_EXAMPLE,
  CONCESSION_EXAMPLE,
  concessionParams,
  ConcessionRecord,
  ConcessionView,
  GRANT_EXAMPLE,
  GrantConcession,
  RECORD_EXAMPLE,
  RevokeConcession,
  REVOKED_EXAMPLE,
} from './concession-schemas.ts';

const LIFTED_EXAMPLE: HoldView = {
  ...HOLD_EXAMPLE,
  inspectAgain: [],
  liftedBy: 'Jonas Aldergaard',
  liftedAt: '2026-06-13T10:05:00.000Z',
  liftReason: 'Toe link straight, wheel bearing without play',
  clearance: {
    admit: true,
    status: 'clear',
    reason: 'Signed off at the tech line.',
    validUntil: '2026-06-14T22:00:00.000Z',
    conditions: [],
  },
};

const PLACE_DESCRIPTION = `Takes the clearance away at once, whatever it was: for every entry of the car (or of the driver), also
for one that is made later. Several holds can stand; each must be lifted. Every member of the staff may place one. An
entrant may stop the own car ("I hit something", "it leaks"): while that hold stands, a repeat is the same one, and only
the staff lifts it. Send an \`Idempotency-Key\` where the network may be away.`;

const LIFT_DESCRIPTION = `The kind of the hold says what must be looked at first (\`inspectAgain\` of the hold): name each point in
\`checks\`, or send the car through the line again with \`requireReinspection\`. The chief inspector may do without, with an
\`exception\` that is kept. Inspectors lift what an entrant said of the own car, and leaks; the rest is the chief's.`;

/** Holds and lifts, immediate at the gate. */
export async function holdRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'POST',
    path: '/entries/:entryId/holds',
    operationId: 'placeHold',
    summary: 'Hold a car',
    description: PLACE_DESCRIPTION,
    tag: 'Clearance',
    access: [...STAFF, 'entrant'],
    stopsCars: true,
    params: entryParams,
    headers: OptionalIdempotencyKey,
    body: PlaceHold,
    bodyExample: { reason: HOLD_EXAMPLE.reason, kind: HOLD_EXAMPLE.kind },
    success: { 201: { description: 'Held', schema: HoldView, example: HOLD_EXAMPLE } },
    problems: ['not-found', 'state-moved-on', 'not-acceptable', 'idempotency-key-reused'],
    handle: ({ params, headers, body, actor, request }) => {
      const key = findIdempotencyKey(headers['idempotency-key']);
      return placeHold(deps, actor, { entryId: params.entryId, body, key, requestId: request.id });
    },
  });
  addRoute(app, {
    method: 'POST',
    path: '/holds/:holdId/lift',
    operationId: 'liftHold',
    summary: 'Lift a hold',
    description: LIFT_DESCRIPTION,
    tag: 'Clearance',
    access: ['organizer', 'chief', 'inspector'],
    params: holdParams,
    body: LiftHold,
    bodyExample: {
      reason: 'Toe link straight, wheel bearing without play',
      checks: [{ item: 'wheel.bent', result: 'ok' }],
    },
    success: { 200: { description: 'Lifted', schema: HoldView, example: LIFTED_EXAMPLE } },
    problems: ['not-found', 'conflict-of-interest', 'points-not-checked', 'state-moved-on'],
    handle: async ({ params, body, actor, request }) => ({
      status: 200,
      body: await liftHold(deps, actor, { holdId: params.holdId, body, requestId: request.id }),
    }),
  });
}

const WRITE_DESCRIPTION = `Beside the declaration, which it never changes: hot pressures, torque after the first session, pads and
tread after a session, laps, temperatures, what was felt. It is kept as it is written. It takes no clearance away by
itself, but for its own rules: a symptom with which nobody drives on stops the car, as the entrant's own hold does; a \`torque\`
of all wheels, at the maker's value, cooled and after the session, closes the re-check that the acceptance asked for; a
\`tread\` is what the gate goes by on a wet track, of an entrant only where it is too low. \`says\` tells what came of it.`;

const WRITTEN_EXAMPLE: z.infer<typeof WrittenLog> = {
  ...LOG_EXAMPLE,
  says: ['Done: Re-check wheel torque after the first session, wheels cooled.'],
  clearance: { ...CLEARANCE_EXAMPLE, admit: true, status: 'clear', reason: 'Signed off at the tech line.' },
};

/** The log of an entry: what was measured or felt after a session. */
export async function logRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'POST',
    path: '/entries/:entryId/log',
    operationId: 'writeLog',
    summary: 'Write down what was measured or felt after a session',
    description: WRITE_DESCRIPTION,
    tag: 'Clearance',
    access: [...STAFF, 'entrant'],
    params: entryParams,
    headers: IdempotencyKey.extend(ACCEPT_LANGUAGE),
    body: LogInput,
    bodyExample: {
      kind: 'torque',
      session: '1',
      at: '2026-06-13T08:40:00Z',
      values: { 'wheel.torque-setting': { value: 81, unit: 'lbf·ft' } },
      wheelsCooled: true,
    },
    success: {
      201: { description: 'Written', schema: WrittenLog, headers: LANGUAGE_DOCUMENTED, example: WRITTEN_EXAMPLE },
    },
    problems: [
      'not-found',
      'state-moved-on',
      'answers-not-acceptable',
      'not-acceptable',
      'idempotency-key-required',
      'idempotency-key-reused',
    ],
    handle: async ({ params, headers, body, actor, request }) => {
      const key = parseIdempotencyKey(headers['idempotency-key']);
      const language = languageOf(headers);
      const answer = await writeLog(deps, actor, {
        entryId: params.entryId,
        key,
        body,
        language,
        requestId: request.id,
      });
      return { ...answer, headers: { ...answer.headers, ...languageHeaders(language) } };
    },
  });
  addRoute(app, {
    method: 'GET',
    path: '/entries/:entryId/log',
    operationId: 'listLog',
    summary: 'List what was written down after sessions',
    description: 'The newest first, in pages.',
    tag: 'Clearance',
    access: [...STAFF, 'entrant'],
    params: entryParams,
    query: logQuery,
    success: {
      200: {
        description: 'One page, the newest first',
        schema: LogList,
        headers: { Link: 'The next page, `rel="next"`' },
        example: { log: [LOG_EXAMPLE] },
      },
    },
    problems: ['not-found', 'cursor-not-valid'],
    handle: async ({ params: { entryId }, query, request }) => {
      const scope = { list: 'listLog', filters: { entryId } };
      const after = decodeCursor(scope, query.cursor, z.tuple([Id]))?.[0];
      const rows = await listLog(deps.db.prisma, entryId, { after, take: query.limit + 1 });
      if (rows.length === 0 && !(await hasEntry(deps.db.prisma, entryId))) throw notFound('entry');
      const positionOf = ({ logId }: StoredLog) => [logId];
      const page = toPage(rows, { scope, limit: query.limit, url: request.url, positionOf });
      return { status: 200, body: { log: page.rows.map(viewLog), next: page.next }, headers: page.headers };
    },
  });
}

/** Concessions: the chief inspector's named, reasoned, expiring exceptions. */
export async function concessionRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'POST',
    path: '/entries/:entryId/concessions',
    operationId: 'grantConcession',
    summary: 'Grant an exception to one rule for one entry',
    description:
      'Covers one rule of one published version until it expires, later versions only where it says so; the gate names ' +
      'it. It cannot be changed, only revoked. To a safety-critical rule it counts nothing until a second person ' +
      'approves it: look at `state`.',
    tag: 'Clearance',
    access: ['chief'],
    params: entryParams,
    body: GrantConcession,
    bodyExample: GRANT_EXAMPLE,
    success: { 201: { description: 'Granted', schema: ConcessionView, example: CONCESSION_EXAMPLE } },
    problems: ['not-found', 'conflict-of-interest', 'state-moved-on', 'not-acceptable'],
    handle: async ({ params, body, actor, request }) => ({
      status: 201,
      body: await grantConcession(deps, actor, { entryId: params.entryId, body, requestId: request.id }),
    }),
  });
  addReadRoutes(app, deps);
  addDecisionRoutes(app, deps);
}

function addReadRoutes(app: FastifyInstance, deps: Deps): void {
  addRoute(app, {
    method: 'GET',
    path: '/entries/:entryId/concessions',
    operationId: 'listConcessions',
    summary: 'List the concessions of an entry, whatever has become of them',
    description:
      'Those that count, wait for approval, have ended or were revoked, in the order in which they were asked for.',
    tag: 'Clearance',
    access: [...STAFF, 'entrant'],
    params: entryParams,
    success: {
      200: {
        description: 'Oldest first',
        schema: z.object({ concessions: z.array(ConcessionRecord).describe('All that were granted') }),
        example: { concessions: [RECORD_EXAMPLE] },
      },
    },
    problems: ['not-found'],
    handle: async ({ params }) => ({ status: 200, body: { concessions: await listOfEntry(deps, params.entryId) } }),
  });
  addRoute(app, {
    method: 'GET',
    path: '/concessions/:concessionId',
    operationId: 'getConcession',
    summary: 'Read a concession, with its state and what the gate says of the car',
    description: 'State, end and approval, and what the gate says of the car right now.',
    tag: 'Clearance',
    access: [...STAFF, 'entrant'],
    params: concessionParams,
    success: { 200: { description: 'The concession', schema: ConcessionView, example: CONCESSION_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params, actor }) => ({
      status: 200,
      body: await getConcession(deps, actor, params.concessionId),
    }),
  });
}

function addDecisionRoutes(app: FastifyInstance, deps: Deps): void {
  addRoute(app, {
    method: 'POST',
    path: '/concessions/:concessionId/approve',
    operationId: 'approveConcession',
    summary: 'Approve a concession to a safety-critical rule, as the second person',
    description: 'From then on it counts. Whoever granted it cannot approve it, nor can people named on the entry.',
    tag: 'Clearance',
    access: ['organizer', 'chief'],
    params: concessionParams,
    success: { 200: { description: 'Approved', schema: ConcessionView, example: APPROVED_EXAMPLE } },
    problems: ['not-found', 'conflict-of-interest', 'second-person-needed', 'state-moved-on'],
    handle: async ({ params, actor, request }) => ({
      status: 200,
      body: await approveConcession(deps, actor, { ...params, requestId: request.id }),
    }),
  });
  addRoute(app, {
    method: 'POST',
    path: '/concessions/:concessionId/revoke',
    operationId: 'revokeConcession',
    summary: 'Take a concession back',
    description: 'Counts at once: the gate goes by the rule again, and a car that it bars leaves the line.',
    tag: 'Clearance',
    access: ['organizer', 'chief'],
    params: concessionParams,
    body: RevokeConcession,
    bodyExample: { reason: 'A crack was found in the left rear sidewall' },
    success: { 200: { description: 'Revoked', schema: ConcessionView, example: REVOKED_EXAMPLE } },
    problems: ['not-found', 'state-moved-on'],
    handle: async ({ params, body, actor, request }) => ({
      status: 200,
      body: await revokeConcession(deps, actor, { ...params, reason: body.reason, requestId: request.id }),
    }),
  });
}
