import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import {
  entryParams,
  eventParams,
  Id,
  IfMatch,
  OptionalIdempotencyKey,
  text,
} from '../../http/frame/common-schemas.ts';
import { decodeCursor, toPage } from '../../http/frame/cursor.ts';
import { etagOf } from '../../http/frame/headers.ts';
import { AsOf, readAsOf } from '../../http/frame/changed-since.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute, type Answer } from '../../http/frame/route.ts';
import { openBreather } from '../../platform/clock.ts';
import { findIdempotencyKey, once } from '../../http/frame/idempotency.ts';
import { ChangedClearance, viewClearance } from '../../http/views/clearance-view.ts';
import { inTransaction, type Tx } from '../../platform/database/db.ts';
import { recordEntryHistory } from '../../records/history/history.ts';
import { lockEntryForChange, stateOf } from '../../records/locks/entry-lock.ts';
import { notifyEntrant } from '../../records/notify-entrant.ts';
import { closeTicket } from '../../records/tickets.ts';
import { createEntry } from './create.ts';
import { CREATE_ENTRY_EXAMPLE, CreateEntry, ENTRY_EXAMPLE, EntryFilters, EntryView, UpdateEntry } from './schemas.ts';
import { listEntries } from './list-store.ts';
import { eventExists, findEntry, type StoredEntry } from './store.ts';
import { type ChangedEntry, changeEntry } from './update.ts';

const CHANGED_SINCE = `With the clearance of each, in the order in which they were made, in pages. With \`changedSince\` those of which something was
written since: the entry, its car, declarations, sign-offs, holds. What time alone ends (a clearance at the end of a day) is no change.`;

const Position = z.tuple([Id]);
const ETAG = { ETag: 'Version of the entry and its vehicle' };

function forReader(stored: StoredEntry, actor: Actor): EntryView {
  if (actor.role === 'organizer' || actor.role === 'entrant') return stored.view;
  const { name, personId } = stored.view.entrant;
  return { ...stored.view, entrant: { name, ...(personId === undefined ? {} : { personId }) } };
}

const withETag = (
  status: number,
  { warnings = [], ...stored }: ChangedEntry,
  actor: Actor,
  headers: Record<string, string> = {},
) => ({
  status,
  body: { ...forReader(stored, actor), ...(warnings.length === 0 ? {} : { warnings: [...warnings] }) },
  headers: { etag: etagOf(stored.rev, stored.vehicleRev), ...headers },
});

/** Entries: car numbers in run groups, with their people and vehicle. */
export async function entryRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'POST',
    path: '/events/:eventId/entries',
    operationId: 'createEntry',
    summary: 'Enter a car in a run group',
    description:
      'A shared car is entered once per run group under the same number; its vehicle record is one. A number that differs only by zeros from one of the event is refused, unless `zeroTwins` of the event allows it; one that looks like another (6 and 9, O and 0, I, l and 1, B and 8, S and 5, capitals) is entered, with `warnings`, unless `lookAlikes` refuses it.',
    tag: 'Entries',
    access: ['organizer'],
    params: eventParams,
    body: CreateEntry,
    bodyExample: CREATE_ENTRY_EXAMPLE,
    success: {
      201: {
        description: 'Entered',
        schema: EntryView,
        headers: { ...ETAG, Location: 'The entry' },
        example: ENTRY_EXAMPLE,
      },
    },
    problems: ['not-found', 'car-number-taken', 'car-number-looks-alike', 'shared-car-differs', 'not-acceptable'],
    handle: async ({ params, body, actor, request }) => {
      const stored = await createEntry(deps, actor, { eventId: params.eventId, entry: body, requestId: request.id });
      return withETag(201, stored, actor, { location: `/v1/entries/${stored.view.entryId}` });
    },
  });
  addListRoute(app, deps);
  addRoute(app, {
    method: 'GET',
    path: '/entries/:entryId',
    operationId: 'getEntry',
    summary: 'Read an entry with its clearance',
    description: 'People, vehicle and clearance. The `ETag` is needed to change it.',
    tag: 'Entries',
    access: ['organizer', 'chief', 'inspector', 'entrant'],
    params: entryParams,
    success: { 200: { description: 'The entry', schema: EntryView, headers: ETAG, example: ENTRY_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params, actor }) => {
      const stored = await findEntry(deps.db.prisma, params.entryId, deps.clock.now());
      if (stored === undefined) throw notFound('entry');
      return withETag(200, stored, actor);
    },
  });
  addRoute(app, {
    method: 'PATCH',
    path: '/entries/:entryId',
    operationId: 'updateEntry',
    summary: 'Change an entry',
    description:
      'Absent members stay as they are. Another run group or a changed vehicle voids a submitted declaration: what was judged must be what drives.',
    tag: 'Entries',
    access: ['organizer'],
    params: entryParams,
    headers: IfMatch,
    body: UpdateEntry,
    bodyExample: {
      people: [
        { name: 'Ines Haldorsen', role: 'driver' },
        { name: 'Tor Brekke', role: 'crew' },
      ],
    },
    success: {
      200: { description: 'The entry as it is now', schema: EntryView, headers: ETAG, example: ENTRY_EXAMPLE },
    },
    problems: [
      'not-found',
      'car-number-taken',
      'car-number-looks-alike',
      'shared-car-differs',
      'state-moved-on',
      'not-acceptable',
      'precondition-required',
      'precondition-failed',
    ],
    handle: async ({ params, headers, body, actor, request }) => {
      const update = { entryId: params.entryId, ifMatch: headers['if-match'], change: body, requestId: request.id };
      return withETag(200, await changeEntry(deps, actor, update), actor);
    },
  });
}

function addListRoute(app: FastifyInstance, deps: Deps): void {
  addRoute(app, {
    method: 'GET',
    path: '/events/:eventId/entries',
    operationId: 'listEntries',
    summary: 'List the entries of an event',
    description: CHANGED_SINCE,
    tag: 'Entries',
    access: ['organizer'],
    params: eventParams,
    query: EntryFilters,
    success: {
      200: {
        description: 'A page of entries in the order in which they were made',
        schema: z.object({
          entries: z.array(EntryView).describe('Entries of this page'),
          next: z.string().optional().describe('Cursor of the next page; absent on the last'),
          asOf: AsOf,
        }),
        headers: { Link: 'The next page, rel="next"' },
        example: { entries: [ENTRY_EXAMPLE], asOf: '2026-06-13T05:40:00.000Z' },
      },
    },
    problems: ['not-found', 'cursor-not-valid'],
    handle: async ({ params, query, actor, request }) => {
      if (!(await eventExists(deps.db.prisma, params.eventId))) throw notFound('event');
      const { cursor, limit, ...filters } = query;
      const scope = { list: 'listEntries', filters: { eventId: params.eventId, ...filters } };
      const after = decodeCursor(scope, cursor, Position)?.[0];
      const asOf = await readAsOf(deps.db.prisma);
      const wanted = { ...filters, eventId: params.eventId, limit, after };
      const found = await listEntries(deps.db.prisma, wanted, deps.clock.now());
      const positionOf = (stored: StoredEntry) => [stored.view.entryId];
      const { rows, next, headers } = toPage(found, { scope, limit, url: request.url, positionOf });
      const entries = await writeList(
        EntryView,
        rows.map((stored) => forReader(stored, actor)),
      );
      const more = next === undefined ? '' : `,"next":${JSON.stringify(next)}`;
      return { status: 200, bodyText: `{"entries":${entries}${more},"asOf":"${asOf}"}`, headers };
    },
  });
}

/**
 * The JSON text of a list, item by item through its schema, as the framework writes an answer; others have their turn in
 * between. For lists that take longer to write than a lookup at the gate may wait.
 *
 * @returns with brackets
 * @throws ZodError for an item that is not of its schema: a fault of ours
 */
async function writeList<T extends z.ZodType>(schema: T, items: Iterable<z.output<T>>): Promise<string> {
  const breathe = openBreather();
  const texts: string[] = [];
  for (const item of items) {
    texts.push(JSON.stringify(z.encode(schema, item)));
    await breathe();
  }
  return `[${texts.join(',')}]`;
}

interface Withdrawing {
  entryId: string;
  reason: string | undefined;
  /** absent: a repeat is refused */
  key: string | undefined;
  requestId: string;
}

/**
 * Takes an entry out of the event for good: off the line, and the gate says no.
 *
 * @throws ProblemError `not-found`, `state-moved-on` (withdrawn already), `idempotency-key-reused`
 */
async function withdrawEntry(deps: Deps, actor: Actor, withdrawing: Withdrawing): Promise<Answer> {
  const { entryId, reason, key } = withdrawing;
  return inTransaction(deps.stops.prisma, (tx) => {
    const change = async (): Promise<Answer> => ({ status: 200, body: await withdraw(tx, deps, actor, withdrawing) });
    if (key === undefined) return change();
    const body = reason === undefined ? {} : { reason };
    return once(tx, { actor, route: `POST /v1/entries/${entryId}/withdraw`, key, body }, change);
  });
}

async function withdraw(
  tx: Tx,
  deps: Deps,
  actor: Actor,
  { entryId, reason, requestId }: Withdrawing,
): Promise<ChangedClearance> {
  const now = deps.clock.now();
  const entry = await lockEntryForChange(tx, entryId, 'change');
  await closeTicket(tx, entry, 'void', now);
  const data = reason === undefined ? {} : { reason };
  await recordEntryHistory(tx, entry, {
    actor,
    at: now,
    action: 'entry.withdrawn',
    happening: { type: 'withdrawn' },
    data,
    requestId,
  });
  await notifyEntrant(tx, { entryId, kind: 'entry.withdrawn', id: entryId, requestId });
  return { entryId, carNumber: entry.carNumber, clearance: viewClearance(stateOf(entry), now) };
}

const WithdrawEntry = z
  .strictObject({ reason: text(300).optional().describe('For the history') })
  .meta({ id: 'WithdrawEntry' });

const DESCRIPTION = `For good: the car leaves the line and the gate says no. Nothing of its history is lost. Send an
\`Idempotency-Key\` where the network may be away.`;

/** Withdrawal of an entry. */
export async function withdrawalRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'POST',
    path: '/entries/:entryId/withdraw',
    operationId: 'withdrawEntry',
    summary: 'Withdraw an entry',
    description: DESCRIPTION,
    tag: 'Clearance',
    access: ['organizer', 'entrant'],
    stopsCars: true,
    params: entryParams,
    headers: OptionalIdempotencyKey,
    body: WithdrawEntry,
    bodyOptional: true,
    bodyExample: { reason: 'Gearbox failed on the test day' },
    success: {
      200: {
        description: 'Withdrawn',
        schema: ChangedClearance,
        example: {
          entryId: '019ab8f0-0000-7000-8000-0000000000e1',
          carNumber: '42',
          clearance: {
            admit: false,
            status: 'withdrawn',
            reason: 'The entry was withdrawn.',
            validUntil: null,
            conditions: [],
          },
        },
      },
    },
    problems: ['not-found', 'state-moved-on', 'idempotency-key-reused'],
    handle: ({ params, headers, body, actor, request }) => {
      const key = findIdempotencyKey(headers['idempotency-key']);
      return withdrawEntry(deps, actor, { ...params, reason: body.reason, key, requestId: request.id });
    },
  });
}
