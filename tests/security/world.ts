import type { Role } from '../../src/domain/actor.ts';
import type { TestApp, TestToken } from '../support/app.ts';
import { accept, createTestEntry, createTestEvent, submit, type TestEntry, type TestEvent } from '../support/event.ts';
import type { Pool } from './pool.ts';

/** Somebody who calls. */
export interface Caller {
  name: string;
  role?: Role;
  token?: string;
  /** of entrants */
  entryId?: string;
}

const ROLES = ['organizer', 'chief', 'inspector', 'marshal'] as const;

/** Callers of every role, the same through a whole run; nobody and a revoked token too. */
export async function makeCallers(test: TestApp, pool: Pool): Promise<Caller[]> {
  const staff = await Promise.all(ROLES.map((role) => test.mint(role, { holder: `Fuzz ${role}` })));
  const revoked = await test.mint('organizer', { holder: 'Fuzz leaver' });
  await test.deps.db.prisma.token.update({ where: { id: revoked.tokenId }, data: { revokedAt: test.clock.now() } });
  for (const { tokenId } of await test.deps.db.prisma.token.findMany({ select: { id: true } }).then(ids)) {
    pool.protect(tokenId);
  }
  return [
    { name: 'nobody' },
    { name: 'revoked', token: revoked.token },
    ...staff.map(({ role, token }) => ({ name: role, role, token })),
  ];
}

const ids = (rows: readonly { id: string }[]) => rows.map(({ id }) => ({ tokenId: id }));

/** An event with cars in every state, and the entrants of two of them. */
export async function addEvent(
  test: TestApp,
  pool: Pool,
  staff: readonly Caller[],
): Promise<{ event: TestEvent; entrants: Caller[] }> {
  const event = await createTestEvent(test);
  const accepted = await createTestEntry(test, event);
  const waiting = await createTestEntry(test, event);
  const held = await createTestEntry(test, event);
  const fresh = await createTestEntry(test, event, { entrant: { name: '=1+1', email: 'formula@example.org' } });
  const decided = await accept(test, event, accepted, {
    decision: 'accept-with-conditions',
    conditions: [{ text: 'torque' }],
  });
  await submit(test, waiting);
  await submit(test, held);
  // By one of the run's own inspectors: a claim is nobody else's.
  const { body: claimed } = await claimAs(test, staff, event, waiting.carNumber);
  const hold = await test.api('inspector').post(`/v1/entries/${held.entryId}/holds`).send({ reason: 'leak' });
  for (const body of [decided.body, claimed, hold.body]) pool.learn(body, { eventId: event.eventId });
  const all = [accepted, waiting, held, fresh];
  await learnBySight(test, pool, event, all);
  for (const { entrant } of all) pool.protect(entrant.tokenId);
  return { event, entrants: all.map(({ entrant, entryId }) => callerOf(entrant, entryId)) };
}

function claimAs(test: TestApp, staff: readonly Caller[], event: TestEvent, carNumber: string) {
  const token = staff.find(({ role }) => role === 'inspector')?.token ?? '';
  return test
    .api(undefined)
    .post(`/v1/events/${event.eventId}/line/claims`)
    .set('authorization', `Bearer ${token}`)
    .send({ carNumber });
}

function callerOf({ role, token }: TestToken, entryId: string): Caller {
  return { name: `entrant of ${entryId}`, role, token, entryId };
}

/** Reads what an organizer would read first, so that the run starts with ids and versions. */
async function learnBySight(test: TestApp, pool: Pool, event: TestEvent, entries: readonly TestEntry[]): Promise<void> {
  const { eventId, venueId, ruleSetId, novice, advanced } = event;
  const spare = await test.mint('marshal', { holder: 'Spare' });
  pool.learn({ tokenId: spare.tokenId }, {});
  const paths: [string, Record<string, string>][] = [
    [`/v1/events/${eventId}`, { eventId }],
    [`/v1/venues/${venueId}`, { venueId }],
    [`/v1/rule-sets/${ruleSetId}`, { ruleSetId }],
    [`/v1/rule-sets/${ruleSetId}/versions`, { ruleSetId }],
    ...[novice, advanced].map(
      (runGroupId) =>
        [`/v1/events/${eventId}/run-groups/${runGroupId}`, { eventId, runGroupId }] as [string, Record<string, string>],
    ),
    ...entries.flatMap(({ entryId }) =>
      ['', '/inspections', '/concessions'].map(
        (part) => [`/v1/entries/${entryId}${part}`, { eventId, entryId }] as [string, Record<string, string>],
      ),
    ),
  ];
  for (const [path, seen] of paths) {
    const { body, headers } = await test.api('organizer').get(path);
    pool.learn(body, seen);
    if (typeof headers['etag'] === 'string') pool.learnEtag(path, headers['etag']);
  }
}
