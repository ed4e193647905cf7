import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { type Actor, STAFF } from '../../domain/actor.ts';
import { type ClearanceTimeline, stateAt } from '../../domain/clearance/clearance-timeline.ts';
import { type ClearanceAnswer, type ClearanceState, decideClearance } from '../../domain/clearance/decide-clearance.ts';
import { eventParams, Id } from '../../http/frame/common-schemas.ts';
import { decodeCursor, toPage } from '../../http/frame/cursor.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { inTransaction } from '../../platform/database/db.ts';
import {
  ContradictionList,
  contradictionQuery,
  CONTRADICTIONS_EXAMPLE,
  UPLOAD_EXAMPLE,
  UploadChecks,
  UPLOADED_EXAMPLE,
  type UploadedCheck,
  UploadedChecks,
} from './schemas.ts';
import { hasEvent, insertChecks, listContradictions, listTimelines, readChainTimes } from './store.ts';

const AHEAD_MS = 5 * 60_000;

/** What happened to an entry, in order; the first step is that it was entered. */
export interface EntryTimeline extends ClearanceTimeline {
  carNumber: string;
  runGroupId: string;
}

/** A check as far as it is compared. */
interface ComparedCheck {
  carNumber: string;
  runGroupId?: string | undefined;
  askedAt: Date;
  admit: boolean;
  snapshotSeq: number;
}

/** The event's history: how many rows are sealed, and when those were written that lists end at. */
export interface ChainTimes {
  head: number;
  writtenAt: ReadonlyMap<number, Date>;
  /** when the token of the device was made: it can have asked nothing before */
  deviceSince: Date;
}

/**
 * What speaks against an uploaded check, in words with both times; undefined when nothing does. A "no" contradicts
 * nothing: nobody went out by it. A hold of the same instant as the pass counts against it.
 *
 * @param timelines every entry under the number that was asked for
 * @param now when it was uploaded
 */
export function contradictionOf(
  check: ComparedCheck,
  { timelines, chain, now }: { timelines: readonly EntryTimeline[]; chain: ChainTimes; now: Date },
): string | undefined {
  const found = [...clockFaults(check, chain, now), ...passFaults(check, timelines, now)];
  return found.length === 0 ? undefined : found.join(' ');
}

function clockFaults(
  { askedAt, snapshotSeq }: ComparedCheck,
  { head, writtenAt, deviceSince }: ChainTimes,
  now: Date,
): string[] {
  if (snapshotSeq > head) return [`The list is said to end at row ${snapshotSeq}, but the history has ${head} rows.`];
  if (askedAt.getTime() > now.getTime() + AHEAD_MS) {
    return [`The clock of the device is wrong: asked at ${iso(askedAt)}, uploaded at ${iso(now)}.`];
  }
  const written = writtenAt.get(snapshotSeq);
  if (written !== undefined && askedAt < written) {
    return [`The clock of the device is wrong: asked at ${iso(askedAt)}, its list is of ${iso(written)} or later.`];
  }
  if (askedAt.getTime() >= deviceSince.getTime() - AHEAD_MS) return [];
  return [`The clock of the device is wrong: asked at ${iso(askedAt)}, it has access since ${iso(deviceSince)}.`];
}

function passFaults(check: ComparedCheck, timelines: readonly EntryTimeline[], now: Date): string[] {
  if (!check.admit) return [];
  // A clock that is ahead must not make the server foresee the end of a sign-off.
  const at = check.askedAt < now ? check.askedAt : now;
  const asked = timelines.filter(({ runGroupId }) => check.runGroupId === undefined || runGroupId === check.runGroupId);
  const existing = asked.filter(({ steps }) => steps.some((step) => step.at <= at));
  if (existing.length === 0) {
    const detail = 'no car with this number was entered then, or it has another number now.';
    return [`Admitted at ${iso(check.askedAt)}, but ${detail}`];
  }
  const refusing = existing.find((timeline) => !answerAt(timeline, at).admit);
  if (refusing === undefined) return [];
  const { status, reason } = answerAt(refusing, at);
  const named = existing.length > 1 ? `${refusing.runGroup}: ` : '';
  return [
    `Admitted at ${iso(check.askedAt)}, but ${named}${status} since ${iso(refusedSince(refusing, at))}: ${reason}`,
  ];
}

function answerAt(timeline: EntryTimeline, at: Date): ClearanceAnswer {
  return decideClearance(stateAt(timeline, at), at);
}

/** The first instant of the refusal that lasts at `at`: answers change only when something happened or ended. */
function refusedSince(timeline: EntryTimeline, at: Date): Date {
  const [entered] = timeline.steps;
  const instants = [...timeline.steps, ...timeline.carSteps, ...timeline.wetSteps]
    .flatMap((step) => [step.at, ...turnsIn(stateAt(timeline, step.at))])
    .filter((instant) => instant <= at && (entered === undefined || instant >= entered.at))
    .sort((a, b) => b.getTime() - a.getTime());
  let since = at;
  for (const instant of instants) {
    if (answerAt(timeline, instant).admit) break;
    since = instant;
  }
  return since;
}

/** The instants at which time alone changes the answer. */
function turnsIn({ facts: { signOff, conditions, declared }, car, days }: ClearanceState): Date[] {
  return [
    days.from.toISOString(),
    days.until.toISOString(),
    ...car.conditions.map(({ dueAt }) => dueAt),
    signOff?.validFrom,
    signOff?.validUntil,
    ...conditions.map(({ dueAt }) => dueAt),
    ...(declared?.bars ?? []).map(({ concededUntil }) => concededUntil),
  ].flatMap((turn) => (turn === undefined ? [] : [new Date(turn)]));
}

const iso = (instant: Date): string => instant.toISOString();

/**
 * Keeps checks that a device made by itself. They have happened already, so none is refused: each is compared with what
 * the server knew at that time, and what does not fit is marked. Uploading the same checks again changes nothing.
 *
 * @throws ProblemError `not-found` (event)
 */
async function uploadChecks(
  deps: Deps,
  actor: Actor,
  { eventId, checks }: { eventId: string; checks: readonly UploadedCheck[] },
): Promise<UploadedChecks> {
  const now = deps.clock.now();
  return inTransaction(deps.db.prisma, async (tx) => {
    if (!(await hasEvent(tx, eventId))) throw notFound('event');
    const timelines = await listTimelines(tx, eventId, unique(checks.map(({ carNumber }) => carNumber)));
    const seqs = unique(checks.map(({ snapshotSeq }) => snapshotSeq));
    const chain = await readChainTimes(tx, { eventId, tokenId: actor.tokenId, seqs });
    const timelinesOf = new Map(timelines.map(({ carNumber }) => [carNumber, withNumber(timelines, carNumber)]));
    const rows = checks.map((check) => {
      const asked = { ...check, askedAt: new Date(check.askedAt) };
      const known = { timelines: timelinesOf.get(check.carNumber) ?? [], chain, now };
      return { ...asked, contradicts: contradictionOf(asked, known) };
    });
    const added = new Set(await insertChecks(tx, rows, { eventId, actor, uploadedAt: now }));
    const marked = rows.filter(({ clientId, contradicts }) => contradicts !== undefined && added.has(clientId));
    return {
      new: added.size,
      known: checks.length - added.size,
      contradictions: unique(marked.map(({ clientId }) => clientId)).length,
    };
  });
}

const withNumber = (timelines: readonly EntryTimeline[], carNumber: string) =>
  timelines.filter((timeline) => timeline.carNumber === carNumber);

const unique = <T>(values: readonly T[]): T[] => [...new Set(values)];

// A thousand checks with the longest texts, in kilobytes of 1024.
const UPLOAD_LIMIT_BYTES = 512 * 1024;

/** What gates did without a network, and where it did not fit. */
export async function gateUploadRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'POST',
    path: '/events/:eventId/gate/checks',
    operationId: 'uploadGateChecks',
    summary: 'Upload checks that a device made by itself',
    description:
      'They have happened, so none is refused for what it says; either all are read or, when one is malformed, none. Each is known by its `clientId`: uploading it again does no harm. A pass that the server would not have given at that time, and a clock that cannot be right, become lines in the list of contradictions.',
    tag: 'Gate',
    access: STAFF,
    params: eventParams,
    body: UploadChecks,
    bodyExample: UPLOAD_EXAMPLE,
    bodyLimitBytes: UPLOAD_LIMIT_BYTES,
    success: { 200: { description: 'Kept', schema: UploadedChecks, example: UPLOADED_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params, body, actor }) => ({
      status: 200,
      body: await uploadChecks(deps, actor, { eventId: params.eventId, checks: body.checks }),
    }),
  });
  addRoute(app, {
    method: 'GET',
    path: '/events/:eventId/gate/contradictions',
    operationId: 'listGateContradictions',
    summary: 'Passes without a network that the server would not have given',
    description: 'With the time of the pass and the time since when the server knew better.',
    tag: 'Gate',
    access: ['organizer', 'chief'],
    params: eventParams,
    query: contradictionQuery,
    success: {
      200: {
        description: 'One page',
        schema: ContradictionList,
        headers: { Link: 'The next page, `rel="next"`' },
        example: CONTRADICTIONS_EXAMPLE,
      },
    },
    problems: ['not-found', 'cursor-not-valid'],
    handle: async ({ params: { eventId }, query, request }) => {
      const scope = { list: 'listGateContradictions', filters: { eventId } };
      const after = decodeCursor(scope, query.cursor, z.tuple([Id]));
      if (!(await hasEvent(deps.db.prisma, eventId))) throw notFound('event');
      const page = { after: after?.[0], take: query.limit + 1 };
      const rows = await listContradictions(deps.db.prisma, eventId, page);
      const { headers, ...cut } = toPage(rows, {
        scope,
        limit: query.limit,
        url: request.url,
        positionOf: ({ id }) => [id],
      });
      return { status: 200, body: { contradictions: cut.rows.map(({ view }) => view), next: cut.next }, headers };
    },
  });
}
