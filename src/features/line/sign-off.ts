import { v7 as uuidV7 } from 'uuid';
import { claimOver, closeTicketParts } from '../../records/tickets.ts';
import { entryOfClaim, jobsAfterSignOff, readForSignOff, signOffPart, type SignOffRow } from './sign-off-store.ts';
import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import type { CarHappening } from '../../domain/clearance/car-happenings.ts';
import { type OpenCondition, standingBars } from '../../domain/clearance/clearance.ts';
import { countingConcessions } from '../../domain/clearance/concession.ts';
import { decideClearance } from '../../domain/clearance/decide-clearance.ts';
import { type DonePoint, isClosed } from '../../domain/line/done-elsewhere.ts';
import { refusedPoints, stillRefused } from '../../domain/clearance/inspect-again.ts';
import type { ReadFacts } from '../../domain/car/car-facts.ts';
import type { LastSafe } from '../../domain/prepare/wear-outlook.ts';
import type { WetTyres } from '../../domain/clearance/wet-tyres.ts';
import type { Judgement } from '../../domain/rules/model/finding.ts';
import { viewConditions } from '../../http/views/clearance-view.ts';
import { rememberPart, repeatable, type Repeatable, replayKept } from '../../http/frame/idempotency.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import type { Answer } from '../../http/frame/route.ts';
import { isUniqueViolation } from '../../platform/database/db.ts';
import { OUTBOX_NOTIFY, outboxPart } from '../../platform/queue/outbox.ts';
import {
  inPlainTransaction,
  mustChange,
  type PlainTx,
  type Statement,
  writeAtOnce,
} from '../../platform/database/plain-transaction.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';
import { conditionsPart, newConditions } from '../../records/what-stands.ts';
import { refuseConcerned } from '../../records/conflict-of-interest.ts';
import { lockAndRead, type LockedEntry, stateOf, toEntry } from '../../records/locks/entry-lock.ts';
import {
  appendToCar,
  appendToEntry,
  carHeadPart,
  entryHeadPart,
  historyNotify,
  historyPart,
  type HistoryRow,
} from '../../records/history/history.ts';
import { conditionsOfAcceptance } from '../../records/judging/at-line.ts';
import { toJudgingContext } from '../../records/judging/judging-context.ts';
import type { PhotoCounts } from '../../records/evidence.ts';
import { getRulesIn, type JudgingRules } from '../../records/judging/rules.ts';
import { assertAcceptable, assertLookedAtAnew, readChecks, withInstruments } from './checks.ts';
import { doneOnly, isoDates, keepLists, lineJudge, validity, viewJudgement } from './judge-at-line.ts';
import { confirmFactsPart } from '../../records/car-facts.ts';
import type { SignOff, SignOffView } from './schemas.ts';
import { GENERAL_CAUTION } from '../../domain/cautions.ts';

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
 * conditions, clearance and history are written together, so the gate never lags behind: three statements, the lock, what
 * decides, the write.
 *
 * @throws ProblemError `not-found`, `state-moved-on` (claim over), `conflict-of-interest`, `answers-not-acceptable`,
 *   `bar-stands`, `points-not-checked`, `sticker-taken`, `not-acceptable` (validity), `idempotency-key-reused`
 */
export async function signOffClaim(deps: Deps, actor: Actor, request: SignOffRequest): Promise<Answer> {
  const { key, signOff: body } = request;
  const route = `POST /v1/claims/${request.claimId}/sign-off`;
  try {
    const repeat = repeatable({ actor, route, key, body });
    return await inPlainTransaction(deps.db.pool, (tx) => signOff(tx, deps, actor, request, repeat));
  } catch (error) {
    if (!STICKER_TAKEN.some((index) => isUniqueViolation(error, index))) throw error;
    throw new ProblemError('sticker-taken', `Sticker ${body.stickerNumber} is on another sign-off of this event.`, {
      errors: [{ pointer: '/stickerNumber', code: 'taken', detail: 'This sticker number is used.', in: 'body' }],
    });
  }
}

async function signOff(tx: PlainTx, deps: Deps, actor: Actor, request: SignOffRequest, repeat: Repeatable) {
  const { claimId } = request;
  const at = { entry: entryOfClaim(claimId, actor.tokenId), level: 'change' } as const;
  const row = await lockAndRead(tx, at, () => readForSignOff(tx, { claimId, request: repeat, clock: deps.clock }));
  if (row === undefined) throw notFound('claim of yours');
  const replayed = replayKept(row, repeat);
  if (replayed !== undefined) return replayed;
  const rules = await getRulesIn(tx, row.judged);
  const signed = decide(row, rules, actor, request);
  const history = record(signed);
  const answer = { status: 201, bodyText: JSON.stringify(view(signed)) };
  await tx.commitWith(
    writeAtOnce(
      { remembered: rememberPart(repeat, answer), ...writeSigned(signed, history) },
      Prisma.sql`${mustChange('remembered')}, ${historyNotify(signed.entry.eventId)}, ${OUTBOX_NOTIFY}`,
    ),
  );
  return answer;
}

function decide(row: SignOffRow, rules: JudgingRules, actor: Actor, sent: SignOffRequest): Signed {
  const { now, judged } = row;
  const claim = { endReason: row.endReason, expired: row.expired };
  if (claim.endReason !== null || claim.expired) throw claimOver(claim, row.claimedBy ?? undefined);
  refuseConcerned(actor, row.concerned);
  const knownChecks = withInstruments(sent.signOff.checks, row.instruments);
  const request = { ...sent, signOff: { ...sent.signOff, checks: knownChecks } };
  const entry = toEntry(row);
  const context = toJudgingContext(entry.entryId, row);
  const concessions = countingConcessions(row.concessions, judged);
  const { photos } = context;
  const line = lineJudge(judged, { rules, concessions, photos, others: row.others, car: context });
  const checks = readChecks(knownChecks, line.vehicle);
  const judgement = line.judge(checks, now);
  const others = doneOnly(line.done, checks.checked);
  if (request.signOff.decision !== 'refuse') {
    const closed = others.filter((point) => isClosed(point, judgement.findings));
    const checked = [...checks.checked, ...closed.map((point) => ({ ...point, measured: point.value !== undefined }))];
    const { vehicle } = line;
    assertAcceptable(request.signOff, judgement, { ...checks, checked, vehicle, always: line.always });
    assertLookedAtAnew(stillRefused(refusedPoints(row.refusals, line.vehicle), checks.checked));
  }
  const dates = validity(context, request.signOff, now);
  const accepting = {
    given: request.signOff.conditions ?? [],
    judgement,
    rules,
    ref: judged,
    context,
    car: entry.car.facts,
    entryId: entry.entryId,
    now,
  };
  const isRefusal = request.signOff.decision === 'refuse';
  return {
    actor,
    now,
    request,
    entry,
    judgement,
    ...keepLists(line, { row, rules, checks, judgement }),
    // a car that may not go out has no session left to say it of
    lastSafe: isRefusal ? undefined : line.lastSafe(judgement.findings, now),
    wet: line.wetTyres(checks),
    others,
    facts: line.factsRead(checks),
    dates,
    photos,
    inspectionId: row.inspectionId,
    signOffId: uuidV7(),
    conditions: newConditions(isRefusal ? [] : conditionsOfAcceptance(accepting)),
    stickers: row.stickers,
  };
}

/** Everything that a sign-off changes besides the record of its request, each row once. */
function writeSigned(signed: Signed, history: readonly HistoryRow[]): Record<string, Statement> {
  const {
    actor,
    now: at,
    request,
    entry,
    judgement,
    packed,
    others,
    dates,
    inspectionId,
    signOffId,
    conditions,
  } = signed;
  const { entryId, eventId } = entry;
  const { claimId, signOff: body, requestId } = request;
  const decision = {
    signOffId,
    eventId,
    entryId,
    inspectionId,
    claimId,
    signOff: body,
    others,
    judgement,
    packed,
    ...dates,
    actor,
    at,
  };
  const ofCar = history.some((row) => row.car_id !== null);
  return {
    decided: signOffPart(decision),
    ...(conditions.length === 0 ? {} : { asked: conditionsPart(signOffId, entryId, conditions) }),
    ...closeTicketParts(entryId, 'done', at),
    ...(signed.facts.size === 0 ? {} : { confirmed: confirmFactsPart(entry.vehicleId, signed.facts, { actor, at }) }),
    appended: historyPart(history),
    ...(ofCar ? { folded_car: carHeadPart(entry.car) } : {}),
    folded: entryHeadPart(entry),
    ordered: outboxPart(jobsAfterSignOff({ signOffId, conditions, validUntil: dates.validUntil, requestId })),
  };
}

interface Signed extends ReturnType<typeof keepLists> {
  actor: Actor;
  now: Date;
  request: SignOffRequest;
  entry: LockedEntry;
  judgement: Judgement;
  lastSafe: LastSafe | undefined;
  wet: WetTyres | undefined;
  /** points done for other entries of the car that this line did not look at itself */
  others: readonly DonePoint[];
  /** what the staff stands for from now on, of the car itself */
  facts: ReadFacts;
  dates: { validFrom: Date | undefined; validUntil: Date | undefined };
  /** what the photos were that judged it: a replay needs them */
  photos: PhotoCounts;
  inspectionId: string;
  signOffId: string;
  conditions: OpenCondition[];
  /** that the car was given before */
  stickers: readonly string[];
}

/** The rows of the history; car and entry are brought up to date. */
function record(signed: Signed): HistoryRow[] {
  // Before the row of the entry, so that nothing in between says what the gate never said.
  const { actor, entry, now: at } = signed;
  const { requestId } = signed.request;
  const ofCar = appendToCar(entry.car, { actor, at, action: 'car.signed-off', happening: carEvent(signed), requestId });
  const { decision, note, stickerNumber } = signed.request.signOff;
  const dates = isoDates(signed.dates);
  // A refusal leaves the bars as the declaration had them: the gate then says refused, with the inspector's note.
  const bars = decision === 'refuse' ? (entry.facts.declared?.bars ?? []) : standingBars(signed.judgement.findings);
  const ofEntry = appendToEntry(entry, {
    actor,
    at,
    action: 'entry.signed-off',
    happening: {
      type: 'signed-off',
      signOffId: signed.signOffId,
      decision,
      note,
      stickerNumber,
      ...dates,
      ...(decision === 'refuse' ? {} : { lastSafe: signed.lastSafe }),
      bars,
      conditions: signed.conditions,
      wet: signed.wet,
    },
    data: {
      claimId: signed.request.claimId,
      verdict: signed.judgement.verdict,
      lists: { sha256: signed.packed.listsSha256, evaluator: signed.packed.evaluator },
      shown: signed.shown,
      ...(signed.facts.size === 0 ? {} : { carFacts: Object.fromEntries(signed.facts) }),
      ...(signed.others.length === 0 ? {} : { from: [...new Set(signed.others.map(({ of }) => of.signOffId))] }),
      ...(decision === 'refuse' ? {} : { untilEventEnd: signed.request.signOff.validUntil === undefined }),
      ...(Object.keys(signed.photos).length === 0 ? {} : { photos: signed.photos }),
    },
    requestId,
  });
  return ofCar === undefined ? [ofEntry] : [ofCar, ofEntry];
}

/** What the decision says of the car: it counts for each of its entries. */
function carEvent({ entry, request, signOffId, conditions, stickers }: Signed): CarHappening {
  const { decision, note, stickerNumber } = request.signOff;
  const found = { entryId: entry.entryId, runGroup: entry.runGroup, signOffId };
  if (decision !== 'refuse') return { type: 'car-accepted', ...found, conditions, sticker: stickerNumber };
  return { type: 'car-refused', ...found, note, stickers };
}

function view(signed: Signed): SignOffView {
  const { decision, note, stickerNumber } = signed.request.signOff;
  const { admit, status, reason } = decideClearance(stateOf(signed.entry), signed.now);
  return {
    signOffId: signed.signOffId,
    entryId: signed.entry.entryId,
    inspectionId: signed.inspectionId,
    carNumber: signed.entry.carNumber,
    decision,
    ...viewJudgement(signed.judgement),
    conditions: viewConditions(signed.conditions),
    ...(note === undefined ? {} : { note }),
    ...(stickerNumber === undefined ? {} : { stickerNumber }),
    ...isoDates(signed.dates),
    signedBy: signed.actor.name,
    signedAt: signed.now.toISOString(),
    clearance: { admit, status, reason },
    caution: GENERAL_CAUTION,
  };
}
