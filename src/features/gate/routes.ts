import { createHash } from 'node:crypto';
import { promisify } from 'node:util';
import { gzip } from 'node:zlib';
import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { STAFF } from '../../domain/actor.ts';
import { GENERAL_CAUTION } from '../../domain/cautions.ts';
import { tokenHashOf } from '../../http/access/auth.ts';
import { eventParams } from '../../http/frame/common-schemas.ts';
import { isNotModified, takesCoding } from '../../http/frame/headers.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { canonicalJson } from '../../platform/canonical-json.ts';
import { openBreather } from '../../platform/clock.ts';
import { startOfNextDay } from '../../domain/calendar.ts';
import { type GateSnapshot, SNAPSHOT_TYPE } from '../../domain/clearance/gate-snapshot.ts';
import { inTransaction } from '../../platform/database/db.ts';
import { currentSigningKey, signCompact } from '../../records/history/signing.ts';
import { lookUpNumber, openCheckLog, openGate } from './look-up.ts';
import { decideEntry } from './decide.ts';
import { GATE_EXAMPLE, GATE_LIST_EXAMPLE, GateAnswer, GateList, gateParams, GateQuery } from './schemas.ts';
import { listGate } from './store.ts';
import { readSnapshotEvent, type SnapshotEvent } from './snapshot-store.ts';

const IfNoneMatch = z.looseObject({ 'if-none-match': z.string().optional().describe('ETag of the list you have') });

/** The gate: a car number in, one answer out. */
export async function gateRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  const log = openCheckLog(deps);
  const gate = openGate(deps, log);
  app.addHook('onClose', async () => {
    await log.close();
    await gate.pool.end();
  });
  addRoute(app, {
    method: 'GET',
    path: '/events/:eventId/gate/:carNumber',
    operationId: 'lookUpCar',
    summary: 'May this car go onto the track?',
    description:
      'Anything but `"admit": true` means: do not admit. An unknown number is an answer too, with the numbers that may have been meant; one number is never taken for another, and every answer names the cars whose numbers look like it. Every lookup is logged.',
    tag: 'Gate',
    access: STAFF,
    authenticatesItself: true,
    plainJson: true,
    neverCompressed: true,
    params: gateParams,
    query: GateQuery,
    success: { 200: { description: 'The answer', schema: GateAnswer, example: GATE_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params, query, request }) => ({
      status: 200,
      body: await lookUpNumber(deps, gate, STAFF, {
        tokenHash: tokenHashOf(request),
        eventId: params.eventId,
        carNumber: params.carNumber,
        runGroupId: query.runGroupId,
      }),
    }),
  });
  addListRoute(app, deps);
}

function addListRoute(app: FastifyInstance, deps: Deps): void {
  addRoute(app, {
    method: 'GET',
    path: '/events/:eventId/gate',
    operationId: 'listGate',
    summary: 'The answers for every entry of the event',
    description: 'Small enough to ask for often: send the ETag of the list you have and get 304 while nothing changed.',
    tag: 'Gate',
    access: STAFF,
    plainJson: true,
    params: eventParams,
    headers: IfNoneMatch,
    success: {
      200: {
        description: 'The list',
        schema: GateList,
        headers: { ETag: 'Version of the list' },
        example: GATE_LIST_EXAMPLE,
      },
      304: { description: 'The list you have is still right', headers: { ETag: 'Version of the list' } },
    },
    problems: ['not-found'],
    handle: async ({ params, headers }) => {
      const rows = await listGate(deps.db.pool, params.eventId);
      if (rows === undefined) throw notFound('event');
      const now = deps.clock.now();
      const entries: string[] = [];
      // Over the answers and not over rows: time alone can change an answer.
      const hash = createHash('sha256');
      const breathe = openBreather();
      for (const row of rows) {
        const entry = decideEntry(row, now);
        entries.push(JSON.stringify(entry));
        hash.update(canonicalJson(entry));
        await breathe();
      }
      const etag = `"${hash.digest('hex').slice(0, 32)}"`;
      const cache = { etag, 'cache-control': 'no-cache, private', vary: 'authorization' };
      if (isNotModified(headers['if-none-match'], etag)) return { status: 304, headers: cache };
      const [event, caution] = [JSON.stringify(params.eventId), JSON.stringify(GENERAL_CAUTION)];
      const bodyText = `{"eventId":${event},"entries":[${entries.join(',')}],"caution":${caution}}`;
      return { status: 200, bodyText, headers: cache };
    },
  });
}

const JOSE = 'application/jose';
const compress = promisify(gzip);

const SnapshotHeaders = z.looseObject({
  'if-none-match': z.string().optional().describe('ETag of the list you have'),
  'accept-encoding': z.string().optional().describe('`gzip` makes it about a sixth of its size'),
});

const SnapshotQuery = z.strictObject({
  with: z
    .literal('rescue')
    .optional()
    .describe(
      '`rescue`: each entry has what rescuers must know of its car; a reader that refuses unknown members asks without',
    ),
});

const Jws = z.string().describe('A compact JWS (RFC 7515)').meta({ id: 'SignedGateList' });
const EXAMPLE = 'eyJhbGciOiJFUzI1NiIsImtpZCI6Ii4uLiIsInR5cCI6ImdyaWR3b3J0aHktZ2F0ZStqd3QifQ.eyJpc3MiOiIuLi4ifQ.c2ln';

const DESCRIPTION = `Everything a gate needs to answer by itself: a compact JWS, ES256, with \`typ\` \`gridworthy-gate+jwt\`;
its keys are at \`/.well-known/jwks.json\`. The payload has \`asOf\` and \`staleAfter\` (instants; outside of them a device
cannot tell, which never admits), \`seq\` and \`head\` (all of the event's history up to this row is in it, and perhaps
rows after it; the root of the history's tree at that size: refuse a list that ends earlier than the one you have), \`newestHold\` with its \`number\` to compare by radio, \`runGroups\` (\`wet\` where the track is), and \`entries\`
with \`carNumber\`, \`group\` (a place in \`runGroups\`), \`vehicle\` and \`colour\`, and the \`facts\` that decide: withdrawn, holds, declared with bars and whether its tyres are fit for a wet track (\`wet\`; absent: not known),
sign-off with its dates, conditions with their due times. No names, no addresses. Asked for with \`with=rescue\`, every entry has \`rescue\`: \`drive\`
(combustion, hybrid, battery), \`gas\` (none, lpg, cng, hydrogen), \`volts\` and \`disconnectAt\`; what is absent there nobody said.

Send the ETag of the list you have and get 304 while nothing changed. From a quarter of its life on a list is sent anew
even so, so that a device that keeps asking never holds one that is about to go stale.`;

/** The list that a gate keeps for the time without a network. */
export async function gateSnapshotRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'GET',
    path: '/events/:eventId/gate/snapshot',
    operationId: 'getGateSnapshot',
    summary: 'The signed list for a gate without a network',
    description: DESCRIPTION,
    tag: 'Gate',
    access: STAFF,
    params: eventParams,
    headers: SnapshotHeaders,
    query: SnapshotQuery,
    success: {
      200: {
        description: 'The signed list',
        schema: Jws,
        contentType: JOSE,
        headers: { ETag: 'Version of the list' },
        example: EXAMPLE,
      },
      304: { description: 'The list you have is still right', headers: { ETag: 'Version of the list' } },
    },
    problems: ['not-found'],
    handle: async ({ params, headers, query }) => {
      const known = headers['if-none-match'];
      const { etag, jws } = await signSnapshot(deps, params.eventId, { known, withRescue: query.with === 'rescue' });
      const cache = { etag, 'cache-control': 'no-cache, private', vary: 'authorization, accept-encoding' };
      if (jws === undefined) return { status: 304, headers: cache };
      const type = { ...cache, 'content-type': JOSE };
      if (!takesCoding(headers['accept-encoding'], 'gzip')) return { status: 200, body: jws, headers: type };
      return { status: 200, body: await compress(jws), headers: { ...type, 'content-encoding': 'gzip' } };
    },
  });
}

const HOUR_MS = 3_600_000;

/** Part of a list's life after which a device gets a new one although nothing changed, so that its life starts again. */
const RENEW_AFTER = 0.25;

const TAG = /"([0-9a-f]{32})\.([0-9a-z]{1,10})"/g;

interface SignedSnapshot {
  etag: string;
  /** absent: the list that the device has is still right */
  jws?: string;
}

/**
 * The gate list of an event, signed. It can be used for the configured hours, and never past the event's last day.
 *
 * @param known `If-None-Match` of the device
 * @throws ProblemError `not-found` (event)
 */
async function signSnapshot(
  deps: Deps,
  eventId: string,
  { known, withRescue }: { known: string | undefined; withRescue: boolean },
): Promise<SignedSnapshot> {
  // Before the reading: what is in the list was true at `asOf` or later.
  const now = deps.clock.now();
  const event = await inTransaction(deps.db.prisma, (tx) => readSnapshotEvent(tx, eventId, withRescue), {
    isolationLevel: 'RepeatableRead',
  });
  if (event === undefined) throw notFound('event');
  const key = await currentSigningKey(deps.db.prisma, now);
  const iss = deps.config.publicUrl ?? 'gridworthy';
  const lifeMs = deps.config.gateSnapshotHours * HOUR_MS;
  const hash = sha256(JSON.stringify([key.kid, iss, event]));
  const held = heldTag(known, { hash, now, renewMs: lifeMs * RENEW_AFTER });
  if (held !== undefined) return { etag: held };
  const snapshot: GateSnapshot = { iss, ...event.content, ...lifeOf(event, now, lifeMs) };
  return { etag: tagOf(hash, now), jws: await signCompact(key, JSON.stringify(snapshot), SNAPSHOT_TYPE) };
}

function lifeOf(event: SnapshotEvent, now: Date, lifeMs: number): { asOf: string; staleAfter: string } {
  const end = startOfNextDay(event.endsOn, event.timeZone).getTime();
  const staleAfter = new Date(Math.min(now.getTime() + lifeMs, end));
  return { asOf: now.toISOString(), staleAfter: staleAfter.toISOString() };
}

// Weak: two signatures over the same list differ. The second part is when it was made.
const tagOf = (hash: string, at: Date): string => `W/"${hash}.${at.getTime().toString(36)}"`;

/** The tag among those the device sent that has this content and is not due for renewal. */
function heldTag(
  header: string | undefined,
  { hash, now, renewMs }: { hash: string; now: Date; renewMs: number },
): string | undefined {
  for (const [, contentHash, madeAt = ''] of (header ?? '').matchAll(TAG)) {
    const made = new Date(Number.parseInt(madeAt, 36));
    const ageMs = now.getTime() - made.getTime();
    if (contentHash === hash && ageMs >= 0 && ageMs < renewMs) return tagOf(hash, made);
  }
  return undefined;
}

function sha256(text: string): string {
  return createHash('sha256').update(text).digest('hex').slice(0, 32);
}
