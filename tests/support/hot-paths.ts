import { randomUUID } from 'node:crypto';
import type { Deps } from '../../src/deps.ts';
import { removeOldImports } from '../../src/features/entries/import/import-task-store.ts';
import { removeOldChecks } from '../../src/features/gate/look-up.ts';
import { removeOldDeliveries } from '../../src/features/notify/delivery-store.ts';
import { listChanges } from '../../src/features/notify/publish-store.ts';
import { eraseOverdue } from '../../src/features/personal-data/erase.ts';
import { removeOrphanPhotos } from '../../src/features/declare/photos/read.ts';
import { purgeIdempotency } from '../../src/http/frame/idempotency.ts';
import { listUnsealedEvents, sealBatch } from '../../src/records/history/seal.ts';
import { signHeads } from '../../src/records/history/signing.ts';
import { giveUpOldRows, purgeEndedRows, reviveLostRows } from '../../src/platform/queue/outbox.ts';
import { claimOf, type Club, type ClubEntry } from '../bench/writes/club.ts';

/** Something that people or the server do all day. */
export interface HotPath {
  name: string;
  /** what must be there before, not looked at; `round` counts from 0 */
  prepare?(round: number): Promise<unknown>;
  /** @param prepared what `prepare` gave */
  run(round: number, prepared: unknown): Promise<unknown>;
  /** how the place of the next round is made, not looked at */
  after?(result: unknown): Promise<unknown>;
}

/** A club whose cars stand at different places of their way to the track. */
export interface PlayedClub extends Club {
  base: string;
  organizer: string;
  marshal: string;
  webhookId: string;
}

type Body = Readonly<Record<string, unknown>>;
const text = (body: unknown, name: string): string => String((body as { body: Body }).body[name]);

/** Brings cars of a club on their way: `submitted` of them declare, and of these every third is signed off, every tenth held. */
export async function playClub(
  { deps, base, organizer }: { deps: Deps; base: string; organizer: string },
  club: Club,
  submitted: number,
): Promise<PlayedClub> {
  const { call, eventId, chief, inspector } = club;
  for (const [at, entry] of club.entries.slice(0, submitted).entries()) {
    if (at % 3 === 0) {
      const { claimId, body: accept } = await claimOf(club, entry);
      const conditions = { decision: 'accept-with-conditions', conditions: [{ text: 'Torque again after session 1' }] };
      const body = { ...(accept as Body), ...(at % 2 === 0 && conditions) };
      await call('POST', `/v1/claims/${claimId}/sign-off`, { token: inspector, body, idempotencyKey: randomUUID() });
    } else await submit(club, entry);
    if (at % 10 === 0) {
      const body = { reason: 'Contact in session 2', kind: 'contact' };
      await call('POST', `/v1/entries/${entry.entryId}/holds`, { token: chief, body });
    }
  }
  const staff = { role: 'marshal', holder: 'Marshal', eventIds: [eventId] };
  const marshal = text(await call('POST', '/v1/tokens', { token: organizer, body: staff }), 'token');
  const webhook = { url: 'https://example.org/hook', types: ['hold.placed'], eventId };
  const webhookId = text(await call('POST', '/v1/webhooks', { token: organizer, body: webhook }), 'webhookId');
  await deps.db.pool.query(BESIDES, [eventId, webhookId]);
  return { ...club, base, organizer, marshal, webhookId };
}

/** Rows that are made by ways of their own, one for each car, so that no table of an event is empty. */
const BESIDES = `
  WITH car AS (SELECT e.id, e.car_number, g.rule_set_id, g.rule_set_version, e.created_by
    FROM entries e JOIN run_groups g ON g.id = e.run_group_id WHERE e.event_id = $1::uuid),
  told AS (INSERT INTO notifications (id, dedupe_key, entry_id, kind, transport, sent_at)
    SELECT gen_random_uuid(), id::text, id, 'verdict', 'log', now() FROM car),
  seen AS (INSERT INTO photos (id, entry_id, item_key, content_hash, media_type, width, height, bytes, uploaded_by,
      uploaded_role, uploaded_name, uploaded_at)
    SELECT gen_random_uuid(), id, 'pad.thickness', encode(sha256(id::text::bytea), 'hex'), 'image/jpeg', 1, 1, 1, created_by,
      'entrant', 'Entrant', now() FROM car),
  asked AS (INSERT INTO gate_checks (id, event_id, car_number, admit, status, asked_by, asked_name, asked_at)
    SELECT gen_random_uuid(), $1::uuid, car_number, true, 'clear', created_by, 'Marshal', now() FROM car),
  granted AS (INSERT INTO concessions (id, entry_id, rule_id, rule_set_id, rule_set_version, reason, expires_at, granted_by,
      granted_name, revoked_at, revoked_by, revoked_name)
    SELECT gen_random_uuid(), id, 'none', rule_set_id, rule_set_version, 'Shown', now(), created_by, 'Chief', now(), created_by,
      'Chief' FROM car),
  noted AS (INSERT INTO session_log (id, entry_id, kind, at, content, effects, written_by, written_role, written_name, written_at)
    SELECT gen_random_uuid(), id, 'note', now(), '{"note": "Pulls left"}', '{}', created_by, 'entrant', 'Entrant', now() FROM car),
  imported AS (INSERT INTO tasks (id, kind, subject_id, request, state, created_by, created_role, created_name, created_at,
      finished_at)
    SELECT gen_random_uuid(), 'import', $1::uuid, '{}', 'done', created_by, 'organizer', 'Organizer', now(), now() FROM car),
  sent AS (INSERT INTO webhook_deliveries (id, webhook_id, message_id, type, body, state, due_at, created_at, finished_at)
    SELECT gen_random_uuid(), $2::uuid, id::text, 'hold.placed', '{}', 'delivered', now(), now(), now() FROM car RETURNING id)
  INSERT INTO webhook_attempts (delivery_id, number, started_at, duration_ms, status)
  SELECT id, 1, now(), 1, 200 FROM sent`;

const submit = (club: Club, { entryId, token }: ClubEntry) =>
  club.call('POST', `/v1/entries/${entryId}/inspections`, {
    token,
    body: { answers: club.answers },
    idempotencyKey: randomUUID(),
  });

/** What is read again and again, of one event or of none. */
function reads(club: PlayedClub): HotPath[] {
  const { base, call, eventId, organizer, marshal, inspector, groupId, webhookId } = club;
  const [entry] = club.entries as [ClubEntry];
  const of = `/v1/events/${eventId}`;
  const get = (name: string, path: string, token = organizer): HotPath => ({
    name,
    run: () => call('GET', path, { token }),
  });
  const textOf = (name: string, path: string, token: string): HotPath => ({
    name,
    run: async () => {
      const answer = await fetch(`${base}${path}`, { headers: { authorization: `Bearer ${token}` } });
      if (answer.status !== 200) throw new Error(`${path}: ${answer.status}`);
      return answer.text();
    },
  });
  return [
    get('gate lookup', `${of}/gate/${entry.carNumber}`, marshal),
    get('gate list', `${of}/gate`, marshal),
    textOf('signed list', `${of}/gate/snapshot`, marshal),
    get('line', `${of}/line`, inspector),
    get('readiness', `${of}/readiness`),
    get('entries, a page', `${of}/entries?limit=50`),
    {
      name: 'entries, second page',
      prepare: () => call('GET', `${of}/entries?limit=10`, { token: organizer }),
      run: (_round, page) => call('GET', `${of}/entries?limit=10&cursor=${text(page, 'next')}`, { token: organizer }),
    },
    get('entries of a number', `${of}/entries?carNumber=${entry.carNumber}`),
    get('entries of a group', `${of}/entries?runGroupId=${groupId}&limit=50`),
    textOf('entries as a file', `${of}/entries/export`, organizer),
    get('entry', `/v1/entries/${entry.entryId}`),
    get('history of an entry', `/v1/entries/${entry.entryId}/history`),
    get('history of an event', `${of}/history`),
    get('form', `/v1/entries/${entry.entryId}/form`, entry.token),
    get('declarations of an entry', `/v1/entries/${entry.entryId}/inspections`, entry.token),
    get('record of an entry', `/v1/entries/${entry.entryId}/record`),
    get('personal data of an entry', `/v1/entries/${entry.entryId}/personal-data`),
    get('event', of),
    get('events, a page', '/v1/events?limit=20'),
    get('tokens, a page', '/v1/tokens?limit=50'),
    get('webhooks, a page', '/v1/webhooks?limit=50'),
    get('deliveries, a page', `/v1/webhooks/${webhookId}/deliveries?limit=50`),
    get('set-up', `/v1/set-up?eventId=${eventId}`),
    get('imports of an event', `${of}/imports`),
    get('audit', `${of}/audit`),
  ];
}

/** What is written all day. */
function writes(deps: Deps, club: PlayedClub): HotPath[] {
  const { call, eventId, chief, inspector } = club;
  const at = (round: number) => club.entries[(round * 7 + 1) % club.entries.length] as ClubEntry;
  const body = { reason: 'Contact in session 2', kind: 'contact' };
  return [
    { name: 'submit', run: (round) => submit(club, at(round)) },
    {
      name: 'claim next',
      prepare: (round) => submit(club, at(round)),
      run: () => call('POST', `/v1/events/${eventId}/line/claims`, { token: inspector, body: {} }),
      after: (claim) => call('DELETE', `/v1/claims/${text(claim, 'claimId')}`, { token: inspector }),
    },
    {
      name: 'sign-off',
      prepare: (round) => claimOf(club, at(round)),
      run: (_round, prepared) => {
        const claim = prepared as Awaited<ReturnType<typeof claimOf>>;
        const order = { token: inspector, body: claim.body, idempotencyKey: randomUUID() };
        return call('POST', `/v1/claims/${claim.claimId}/sign-off`, order);
      },
    },
    {
      name: 'hold',
      run: (round) =>
        call('POST', `/v1/entries/${at(round).entryId}/holds`, { token: chief, body, idempotencyKey: randomUUID() }),
      after: (held) =>
        call('POST', `/v1/holds/${text(held, 'holdId')}/lift`, {
          token: chief,
          body: { reason: 'Looked at', exception: 'Nothing bent' },
        }),
    },
    {
      name: 'draft',
      prepare: async (round) => {
        const found = 'SELECT rev FROM drafts WHERE entry_id = $1';
        return (await deps.db.pool.query<{ rev: number }>(found, [at(round).entryId])).rows[0]?.rev ?? 0;
      },
      run: (round, rev) => {
        const { entryId, token } = at(round);
        const ifMatch = `"${String(rev)}"`;
        return call('PUT', `/v1/entries/${entryId}/declaration`, { token, body: { answers: club.answers }, ifMatch });
      },
    },
  ];
}

/** What the server does by itself, for all events at once. */
function behind(deps: Deps, club: PlayedClub): HotPath[] {
  const { pool } = deps.db;
  const { eventId } = club;
  return [
    {
      name: 'sealing',
      prepare: (round) => submit(club, club.entries[round % club.entries.length] as ClubEntry),
      run: async () => {
        for (const one of await listUnsealedEvents(pool)) while (await sealBatch(pool, one));
      },
    },
    { name: 'signing of heads', run: () => signHeads(deps, pool) },
    { name: 'stream, changes after a cursor', run: () => listChanges(pool, { eventId, after: 10, limit: 50 }) },
    { name: 'jobs that were lost', run: () => reviveLostRows(pool) },
    { name: 'jobs that were given up', run: () => giveUpOldRows(pool) },
    { name: 'jobs that ended', run: () => purgeEndedRows(pool) },
    { name: 'old keys', run: () => purgeIdempotency(pool) },
    { name: 'old deliveries', run: () => removeOldDeliveries(deps) },
    { name: 'old lookups', run: () => removeOldChecks(deps) },
    { name: 'old imports', run: () => removeOldImports(deps) },
    { name: 'photos of nobody', run: () => removeOrphanPhotos(deps) },
    { name: 'personal data that is overdue', run: () => eraseOverdue(deps) },
  ];
}

const HEAD = 'carNumber,runGroup,entrantName,vehicle.description,vehicle.massKg';

/** The same cars again and again, each time with another mass: entered by the first, changed by all others. */
export function importPath({ base, organizer }: PlayedClub, eventId: string, cars: number): HotPath {
  const file = (mass: number) =>
    [HEAD, ...Array.from({ length: cars }, (_, at) => `I${at},Novice,Entrant I${at},Coupé I${at},${mass}`)].join('\n');
  return {
    name: `import of ${cars}`,
    run: async (round) => {
      const headers = {
        authorization: `Bearer ${organizer}`,
        'content-type': 'text/csv',
        'idempotency-key': randomUUID(),
      };
      const url = `${base}/v1/events/${eventId}/entries/import`;
      const answer = await fetch(url, { method: 'POST', headers, body: file(900 + round + Math.random()) });
      if (answer.status !== 200) throw new Error(`import: ${answer.status} ${await answer.text()}`);
      return answer.text();
    },
  };
}

/** All of them; none changes what the others find. */
export const hotPaths = (deps: Deps, club: PlayedClub): HotPath[] => [
  ...reads(club),
  ...writes(deps, club),
  ...behind(deps, club),
];
