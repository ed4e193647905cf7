import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { decideClearance } from '../../domain/clearance/decide-clearance.ts';
import { wayToLine } from '../../http/views/clearance-view.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import { inTransaction, type Tx } from '../../platform/database/db.ts';
import { appendOutbox } from '../../platform/queue/outbox.ts';
import { assertMayDecideOn, type Concerned, conflictOf } from '../../records/conflict-of-interest.ts';
import { assertTakesPlace, lockEntry, stateOf } from '../../records/locks/entry-lock.ts';
import { recordEntryHistory } from '../../records/history/history.ts';
import { releaseClaim } from '../../records/tickets.ts';
import { languagesOf } from '../../domain/rules/says/rule-words.ts';
import { placeOfRule } from '../../domain/rules/says/says.ts';
import { languageOf } from '../../http/frame/headers.ts';
import { SaysView, viewSays } from '../../http/views/small-views.ts';
import { claimExpireJob } from './fall-due.job.ts';
import { type Accepts, claimEnded, type InLanguage, lockClaimToRelease, lockOwnClaim, viewClaim } from './views.ts';
import type { ClaimTicket } from './schemas.ts';
import {
  endExpiredClaim,
  eventExists,
  extendClaim,
  findClaim,
  findOpenClaim,
  type FreeTicket,
  insertClaim,
  type Lease,
  listEntriesOfNumber,
  listLine,
  listTicketsOfNumber,
  lockNextTicket,
  markNotHere,
} from './store.ts';
import { judgeAtLine } from './judge-at-line.ts';

const MAX_TRIES = 5;

type Attempt =
  | { claimId: string }
  | { claimId?: never; because: 'nobody-waits' | 'lost-a-race' }
  | { claimId?: never; because: 'own-car'; entryId: string };

/** With whom the car concerns, where that is still to be looked at. */
type FoundTicket = FreeTicket & { concerned?: Concerned };

interface ClaimRequest {
  eventId: string;
  body: ClaimTicket;
  accepts: Accepts;
  requestId: string;
  /** entries that turned out to be the inspector's own */
  passed?: readonly string[];
}

/**
 * Gives the inspector the next car, or the car with the given number, for the length of a lease. Undefined when nobody
 * waits. A lease that has run out never blocks: the database clock decides, whether or not the queue works.
 *
 * @throws ProblemError `not-found` (event, car number), `state-moved-on` (not on the line, or claimed by another),
 *   `conflict-of-interest`
 */
export async function claimTicket(deps: Deps, actor: Actor, request: ClaimRequest): Promise<InLanguage | undefined> {
  if (!(await eventExists(deps.db.prisma, request.eventId))) throw notFound('event');
  const passed: string[] = [];
  for (let attempt = 1; attempt <= MAX_TRIES; ) {
    const claimed = await inTransaction(deps.db.prisma, (tx) => tryClaim(tx, deps, actor, { ...request, passed }));
    if (claimed.claimId !== undefined) return viewClaim(deps, claimed.claimId, request.accepts);
    if (claimed.because === 'nobody-waits') return undefined;
    // A transaction of its own for each: nobody waits for the lock on a car that is not taken.
    if (claimed.because === 'own-car') passed.push(claimed.entryId);
    else attempt += 1;
  }
  throw new ProblemError('state-moved-on', 'Others were faster each time; ask again.', { currentState: 'claimed' });
}

async function tryClaim(tx: Tx, deps: Deps, actor: Actor, request: ClaimRequest): Promise<Attempt> {
  const { carNumber } = request.body;
  const ticket: FoundTicket | undefined =
    carNumber === undefined
      ? await nextTicket(tx, actor, request)
      : await ticketOfNumber(tx, deps, actor, { ...request, carNumber });
  if (ticket === undefined) return { because: 'nobody-waits' };
  if (ticket.concerned !== undefined && conflictOf(actor, ticket.concerned) !== undefined) {
    return { because: 'own-car', entryId: ticket.entryId };
  }
  const lease = await takeLease(tx, deps, actor, { ticket, request });
  return lease ?? { because: 'lost-a-race' };
}

async function nextTicket(
  tx: Tx,
  actor: Actor,
  { eventId, passed = [] }: ClaimRequest,
): Promise<FoundTicket | undefined> {
  const ticket = await lockNextTicket(tx, eventId, actor, { skipLocked: true, passed });
  if (ticket !== undefined) return ticket;
  // All that is left may just be in somebody's hands for a moment, for example because a hold is being placed. Then
  // it is worth waiting: "nobody waits" must be true when it is said.
  const somebodyWaits = (await listLine(tx, eventId)).some((row) => row.claimId === null);
  return somebodyWaits ? lockNextTicket(tx, eventId, actor, { skipLocked: false, passed }) : undefined;
}

async function ticketOfNumber(
  tx: Tx,
  deps: Deps,
  actor: Actor,
  request: ClaimRequest & { carNumber: string },
): Promise<FreeTicket> {
  const where = { eventId: request.eventId, carNumber: request.carNumber, runGroupId: request.body.runGroupId };
  const [ticket] = await listTicketsOfNumber(tx, where);
  const entryId = ticket?.entryId ?? (await listEntriesOfNumber(tx, where))[0];
  if (entryId === undefined) throw notFound(`car ${request.carNumber} at this event`);
  const entry = await lockEntry(tx, entryId, 'entry');
  if (entry === undefined) throw notFound('entry');
  const [still] = await listTicketsOfNumber(tx, where);
  if (ticket === undefined || still?.ticketId !== ticket.ticketId) {
    const { status, reason } = decideClearance(stateOf(entry), deps.clock.now());
    const wayOut = wayToLine(entry, status);
    const words = wayOut === undefined ? '' : ` ${wayOut.words}`;
    throw new ProblemError('state-moved-on', `Car ${request.carNumber} is not on the line. ${reason}${words}`, {
      currentState: status,
      ...(wayOut === undefined ? {} : { wayOut }),
    });
  }
  await assertMayDecideOn(tx, actor, entryId);
  return ticket;
}

async function takeLease(
  tx: Tx,
  deps: Deps,
  actor: Actor,
  { ticket, request }: { ticket: FreeTicket; request: ClaimRequest },
): Promise<Lease | undefined> {
  const entry = await lockEntry(tx, ticket.entryId, 'entry');
  if (entry === undefined) throw notFound('entry');
  assertTakesPlace(entry);
  const ended = await endExpiredClaim(tx, ticket.ticketId);
  const leaseSeconds = (request.body.leaseMinutes ?? deps.config.claimLeaseMinutes) * 60;
  const lease = await insertClaim(tx, { ticketId: ticket.ticketId, actor, leaseSeconds });
  if (lease === undefined) {
    if (request.body.carNumber === undefined) return undefined;
    throw await heldByOther(tx, ticket);
  }
  await recordEntryHistory(tx, entry, {
    actor,
    at: deps.clock.now(),
    action: 'ticket.claimed',
    data: {
      claimId: lease.claimId,
      ticketId: ticket.ticketId,
      expiresAt: lease.expiresAt.toISOString(),
      ...(ended === undefined ? {} : { tookOverFrom: ended }),
    },
    requestId: request.requestId,
  });
  await appendOutbox(tx, {
    name: claimExpireJob.name,
    payload: { claimId: lease.claimId },
    runAt: lease.expiresAt,
    requestId: request.requestId,
  });
  return lease;
}

async function heldByOther(tx: Tx, ticket: FreeTicket): Promise<ProblemError> {
  const other = await findOpenClaim(tx, ticket.ticketId);
  const until = other?.expiresAt.toISOString();
  return new ProblemError('state-moved-on', `${other?.inspectorName ?? 'Somebody'} has this car until ${until}.`, {
    currentState: 'claimed',
    claimedBy: other?.inspectorName,
    claimId: other?.claimId,
    expiresAt: until,
  });
}

/**
 * Gives an own claim back, or for a chief inspector anybody's: the car keeps its place on the line; one that is not there lets
 * others go first for a while. Putting back twice is fine.
 *
 * @throws ProblemError `not-found`, `state-moved-on` when the claim ended in another way
 */
export async function putBackClaim(
  deps: Deps,
  actor: Actor,
  input: { claimId: string; notHere: boolean; requestId: string },
): Promise<void> {
  const { claimId, notHere, requestId } = input;
  await inTransaction(deps.db.prisma, async (tx) => {
    const { claim, entry } = await lockClaimToRelease(tx, actor, claimId);
    if (claim.endReason === 'put-back') return;
    if (!(await releaseClaim(tx, claim, 'put-back'))) throw await claimEnded(tx, claim);
    const { ticketId, inspectorId } = claim;
    if (notHere) await markNotHere(tx, ticketId);
    const whose = inspectorId === actor.tokenId ? {} : { releasedFrom: inspectorId };
    const data = { claimId, ticketId, ...whose, ...(notHere ? { because: 'not-here' } : {}) };
    await recordEntryHistory(tx, entry, { actor, at: deps.clock.now(), action: 'ticket.put-back', data, requestId });
  });
}

/**
 * Starts the lease of an own claim anew. One that has run out can be renewed as long as nobody has taken the car.
 *
 * @throws ProblemError `not-found`, `state-moved-on`
 */
export async function renewClaim(
  deps: Deps,
  actor: Actor,
  input: { claimId: string; requestId: string },
): Promise<{ claimId: string; leaseMinutes: number; expiresAt: string }> {
  const { claimId, requestId } = input;
  return inTransaction(deps.db.prisma, async (tx) => {
    const { claim, entry } = await lockOwnClaim(tx, actor, claimId, 'entry');
    const end = await extendClaim(tx, claimId);
    if (end === undefined) throw await claimEnded(tx, claim);
    const expiresAt = end.toISOString();
    const data = { claimId, expiresAt };
    await recordEntryHistory(tx, entry, { actor, at: deps.clock.now(), action: 'claim.renewed', data, requestId });
    await appendOutbox(tx, { name: claimExpireJob.name, payload: { claimId }, runAt: end, requestId });
    return { claimId, leaseMinutes: claim.leaseSeconds / 60, expiresAt };
  });
}

export const ClaimLimitsView = z
  .object({
    limits: z
      .array(
        z.object({
          ruleId: z.string().describe('The rule'),
          position: z.string().optional().describe('Where on the car, for rules that run per position'),
          items: z.array(z.string()).describe('Catalogue keys of what it is about'),
          says: SaysView.describe('The limit as one sentence'),
        }),
      )
      .describe('In the order of the rules'),
  })
  .meta({ id: 'ClaimLimits' });
export type ClaimLimitsView = z.infer<typeof ClaimLimitsView>;

export const CLAIM_LIMITS_EXAMPLE: ClaimLimitsView = {
  limits: [
    {
      ruleId: 'pad-thickness',
      position: 'FL.in',
      items: ['pad.thickness'],
      says: { text: '4 mm or more, metal plate not counted.' },
    },
  ],
};

/**
 * What the rules ask of the claimed car, one sentence for each limit that can keep it off the track: what the inspector
 * holds what he sees against. Advice is left out, and what cannot be said before something else is known.
 *
 * @throws ProblemError `not-found` when there is no such claim, or it is another inspector's
 */
export async function getClaimLimits(
  deps: Deps,
  actor: Actor,
  claimId: string,
  accepts: { 'accept-language'?: string | undefined },
): Promise<{ view: ClaimLimitsView; language: string }> {
  const db = deps.db.prisma;
  const claim = await findClaim(db, claimId);
  if (claim === undefined || claim.inspectorId !== actor.tokenId) throw notFound('claim of yours');
  const now = deps.clock.now();
  const line = await judgeAtLine(db, claim, now);
  const language = languageOf(accepts, languagesOf(line.ruleSet));
  const judgement = line.asDeclared(now);
  const says = line.says(judgement, now, language);
  const limits = judgement.findings.flatMap(({ ruleId, position, effect, items }) => {
    const said = effect === 'advise' ? undefined : says.get(placeOfRule(ruleId, position));
    if (said === undefined || said.isOpen) return [];
    const at = position === undefined ? {} : { position };
    return [{ ruleId, ...at, items: [...items], says: viewSays(said) }];
  });
  return { view: { limits }, language };
}
