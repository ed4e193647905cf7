import type { Actor } from '../../domain/actor.ts';
import type { CarEvent } from '../../domain/car-facts.ts';
import type { OpenCondition } from '../../domain/clearance.ts';
import { decideClearance } from '../../domain/decide-clearance.ts';
import { barringFindings, standingBars } from '../../domain/standing-bars.ts';
import type { Finding, Judgement } from '../../domain/rules/finding.ts';
import { uncheckedFindings } from '../../domain/line-judgement.ts';
import { refusedPoints, stillRefused } from '../../domain/refused-points.ts';
import type { Deps } from '../../deps.ts';
import { viewFindings } from '../../http/finding-view.ts';
import { once } from '../../http/idempotency.ts';
import { ProblemError } from '../../http/problem.ts';
import type { Answer } from '../../http/route.ts';
import { inTransaction, type Tx } from '../../platform/db.ts';
import { isUniqueViolation } from '../../platform/db-errors.ts';
import { assertMayDecideOn } from '../../records/conflict-of-interest.ts';
import { type LockedEntry, stateOf } from '../../records/entry-lock.ts';
import { recordCarEvent, recordEvent } from '../../records/history.ts';
import type { PhotoCounts } from '../../records/photos.ts';
import { listStandingRefusals } from '../../records/refusals.ts';
import { listStickers } from '../../records/stickers.ts';
import { closeTicket } from '../../records/tickets.ts';
import { judgeAtLine } from './judge-at-line.ts';
import { claimEnded, lockOwnClaim } from './own-claim.ts';
import { readChecks } from './read-checks.ts';
import { CAUTION, type SignOff, type SignOffView } from './schemas.ts';
import { insertSignOff } from './sign-off-store.ts';
import { scheduleAfterSignOff } from './schedule.ts';
import type { ClaimState } from './store.ts';
import { validity } from './validity.ts';

interface SignOffRequest {
  claimId: string;
  key: string;
  signOff: SignOff;
  requestId: string;
}

// As it was written, and in the form in which `6` and `006` are one.
const STICKER_TAKEN = ['sign_offs_event_id_sticker_number_key', 'sign_offs_event_id_sticker_key_key'];

/**
 * The inspector's decision. What he measured judges the rules again and wins over what was declared. Decision,
 * conditions, clearance and history are written together, so the gate never lags behind.
 *
 * @throws ProblemError `not-found`, `state-moved-on` (claim over), `conflict-of-interest`, `answers-not-acceptable`,
 *   `bar-stands`, `points-not-checked`, `sticker-taken`, `not-acceptable` (validity), `idempotency-key-reused`
 */
export async function signOffClaim(deps: Deps, actor: Actor, request: SignOffRequest): Promise<Answer> {
  const { key, signOff: body } = request;
  const route = `POST /v1/claims/${request.claimId}/sign-off`;
  try {
    return await inTransaction(deps.db.prisma, (tx) =>
      once(tx, { actor, route, key, body }, () => signOff(tx, actor, request, deps.clock.now())),
    );
  } catch (error) {
    if (!STICKER_TAKEN.some((index) => isUniqueViolation(error, index))) throw error;
    throw new ProblemError('sticker-taken', `Sticker ${body.stickerNumber} is on another sign-off of this event.`, {
      errors: [{ pointer: '/stickerNumber', code: 'taken', detail: 'This sticker number is used.', in: 'body' }],
    });
  }
}

async function signOff(tx: Tx, actor: Actor, request: SignOffRequest, now: Date): Promise<Answer> {
  const { claim, entry } = await lockOwnClaim(tx, actor, request.claimId, 'change');
  if (claim.endReason !== null || claim.expired) throw await claimEnded(tx, claim);
  await assertMayDecideOn(tx, actor, entry.entryId);
  const { inspection, context, judge } = await judgeAtLine(tx, claim);
  const checks = readChecks(request.signOff.checks, inspection.vehicle);
  const judgement = judge(checks, now);
  if (request.signOff.decision !== 'refuse') {
    assertAcceptable(request.signOff, judgement, checks);
    const refused = refusedPoints(await listStandingRefusals(tx, entry.entryId), inspection.vehicle);
    assertLookedAtAnew(stillRefused(refused, checks.checked));
  }
  const dates = validity(context, request.signOff, now);
  const conceded = concededConditions(request.signOff, judgement);
  const decided = { claim, signOff: request.signOff, judgement, conceded, ...dates };
  const stored = await insertSignOff(tx, { ...decided, actor, at: now });
  await closeTicket(tx, entry, 'done', now);
  await record(tx, entry, { actor, now, request, judgement, dates, photos: context.photos, ...stored });
  await scheduleAfterSignOff(tx, { ...stored, validUntil: dates.validUntil, requestId: request.requestId });
  return {
    status: 201,
    body: view({ claim, entry, actor, now, request, judgement, dates, photos: context.photos, ...stored }),
  };
}

/** What the concessions ask for that carry an acceptance: open conditions of it, each text once. */
function concededConditions({ decision, conditions = [] }: SignOff, { findings }: Judgement): string[] {
  if (decision === 'refuse') return [];
  const given = new Set(conditions.map((condition) => condition.text));
  const asked = standingBars(findings).flatMap((bar) => bar.condition ?? []);
  return [...new Set(asked)].filter((text) => !given.has(text));
}

function assertAcceptable(
  signOff: SignOff,
  judgement: Judgement,
  checks: Pick<ReturnType<typeof readChecks>, 'checked' | 'seen'>,
): void {
  const bars = barringFindings(judgement.findings);
  if (bars.length > 0) {
    const titles = [...new Set(bars.map((bar) => bar.title))].join('; ');
    throw new ProblemError('bar-stands', `Not met or not known: ${titles}.`, {
      standing: bars.map(standing),
      currentState: 'barred',
    });
  }
  const unchecked = uncheckedFindings(judgement.findings, checks.checked);
  // What was looked at and is not ok may be carried by conditions; what nobody looked at may not.
  const notOk = signOff.decision === 'accept' ? checks.seen.filter((point) => point.result === 'not-ok') : [];
  if (unchecked.length === 0 && notOk.length === 0) return;
  const named = [...unchecked.map((finding) => finding.title), ...notOk.map((point) => `${point.item} was not ok`)];
  throw new ProblemError('points-not-checked', `Open: ${[...new Set(named)].join('; ')}.`, {
    standing: [...unchecked.map(standing), ...notOk],
  });
}

function assertLookedAtAnew(open: ReturnType<typeof stillRefused>): void {
  if (open.length === 0) return;
  const named = open.map(({ item, position }) => (position === undefined ? item : `${item} (${position})`)).join('; ');
  const detail = `The car was refused for these, and they need a new value or state: ${named}.`;
  throw new ProblemError('points-not-checked', detail, { standing: open });
}

function standing({ ruleId, title, position, message, items }: Finding): Record<string, unknown> {
  return { ruleId, title, ...(position === undefined ? {} : { position }), items, message };
}

interface Signed {
  actor: Actor;
  now: Date;
  request: SignOffRequest;
  judgement: Judgement;
  dates: { validFrom: Date | undefined; validUntil: Date | undefined };
  /** what the photos were that judged it: a replay needs them */
  photos: PhotoCounts;
  signOffId: string;
  conditions: OpenCondition[];
}

async function record(tx: Tx, entry: LockedEntry, signed: Signed): Promise<void> {
  // Before the row of the entry, so that nothing in between says what the gate never said.
  const { actor, now: at } = signed;
  const { requestId } = signed.request;
  await recordCarEvent(tx, entry.car, {
    actor,
    at,
    action: 'car.signed-off',
    event: await carEvent(tx, entry, signed),
    requestId,
  });
  const { decision, note, stickerNumber } = signed.request.signOff;
  const dates = isoDates(signed.dates);
  // A refusal leaves the bars as the declaration had them: the gate then says refused, with the inspector's note.
  const bars = decision === 'refuse' ? (entry.facts.declared?.bars ?? []) : standingBars(signed.judgement.findings);
  await recordEvent(tx, entry, {
    actor: signed.actor,
    at: signed.now,
    action: 'entry.signed-off',
    event: {
      type: 'signed-off',
      signOffId: signed.signOffId,
      decision,
      note,
      stickerNumber,
      ...dates,
      bars,
      conditions: signed.conditions,
    },
    data: {
      claimId: signed.request.claimId,
      verdict: signed.judgement.verdict,
      ...(decision === 'refuse' ? {} : { untilEventEnd: signed.request.signOff.validUntil === undefined }),
      ...(Object.keys(signed.photos).length === 0 ? {} : { photos: signed.photos }),
    },
    requestId: signed.request.requestId,
  });
}

/** What the decision says of the car: it counts for each of its entries. */
async function carEvent(tx: Tx, entry: LockedEntry, { request, signOffId, conditions }: Signed): Promise<CarEvent> {
  const { decision, note, stickerNumber } = request.signOff;
  const found = { entryId: entry.entryId, runGroup: entry.runGroup, signOffId };
  if (decision !== 'refuse') return { type: 'car-accepted', ...found, conditions, sticker: stickerNumber };
  return { type: 'car-refused', ...found, note, stickers: await listStickers(tx, entry.car.carId) };
}

function view(signed: Signed & { claim: ClaimState; entry: LockedEntry }): SignOffView {
  const { decision, note, stickerNumber } = signed.request.signOff;
  const { admit, status, reason } = decideClearance(stateOf(signed.entry), signed.now);
  return {
    signOffId: signed.signOffId,
    entryId: signed.entry.entryId,
    inspectionId: signed.claim.inspectionId,
    carNumber: signed.entry.carNumber,
    decision,
    verdict: signed.judgement.verdict,
    findings: viewFindings(signed.judgement.findings),
    conditions: signed.conditions,
    ...(note === undefined ? {} : { note }),
    ...(stickerNumber === undefined ? {} : { stickerNumber }),
    ...isoDates(signed.dates),
    signedBy: signed.actor.name,
    signedAt: signed.now.toISOString(),
    clearance: { admit, status, reason },
    caution: CAUTION,
  };
}

function isoDates(dates: Signed['dates']): { validFrom?: string; validUntil?: string } {
  const { validFrom, validUntil } = dates;
  if (validFrom === undefined || validUntil === undefined) return {};
  return { validFrom: validFrom.toISOString(), validUntil: validUntil.toISOString() };
}
