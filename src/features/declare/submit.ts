import { v7 as uuidV7 } from 'uuid';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { type Actor, personKey } from '../../domain/actor.ts';
import { standingBars } from '../../domain/clearance/clearance.ts';
import { type Answers, listMissing } from '../../domain/declaration/declaration.ts';
import { type Said, stillSaid } from '../../domain/declaration/basis.ts';
import type { WetTyres } from '../../domain/clearance/wet-tyres.ts';
import type { Judgement } from '../../domain/rules/model/finding.ts';
import { wayBackToLine, wayToDeclareAtLine } from '../../http/views/clearance-view.ts';
import { rememberPart, repeatable, type Repeatable, replayKept } from '../../http/frame/idempotency.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import type { Answer } from '../../http/frame/route.ts';
import { OUTBOX_NOTIFY, outboxPart } from '../../platform/queue/outbox.ts';
import {
  inPlainTransaction,
  mustChange,
  type Statement,
  writeAtOnce,
} from '../../platform/database/plain-transaction.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';
import {
  assertTakesPlace,
  entryWithdrawn,
  lockAndRead,
  type LockedEntry,
  toEntry,
} from '../../records/locks/entry-lock.ts';
import { appendToEntry, entryHeadPart, historyNotify, historyPart } from '../../records/history/history.ts';
import { findInspection, inspectionPart, type NewInspection } from '../../records/judging/inspections.ts';
import { judgeEntry, judgeWetTyres, keepJudgement, readAnswers } from '../../records/judging/judge-entry.ts';
import { type JudgingContext, toJudgingContext } from '../../records/judging/judging-context.ts';
import { getRulesIn, type JudgingRules } from '../../records/judging/rules.ts';
import { closeTicketParts, openTicketPart } from '../../records/tickets.ts';
import { defineJob } from '../../platform/queue/job.ts';
import { notifyOnce } from '../../records/notify-entrant.ts';
import { type Accepts, isOpen, usable, windowView } from './form.ts';
import type { SubmitInspection } from './schemas.ts';
import { draftPart, readForSubmission, type SubmissionRow } from './store.ts';
import { viewJudged, wordsIn } from './save-draft.ts';

const Payload = z.strictObject({ inspectionId: z.uuid() });

/** Tells the entrant what the rules made of a submitted revision. */
export const inspectionNotifyJob = defineJob<Deps, z.infer<typeof Payload>>({
  name: 'inspection.notify',
  payload: Payload,
  attempts: 8,
  backoffMs: 2000,
  async handle(deps, { inspectionId }, context) {
    const inspection = await findInspection(deps.db.prisma, inspectionId);
    if (inspection === undefined) return;
    const { entryId, revision, verdict } = inspection;
    await notifyOnce(deps, context, {
      dedupeKey: `inspection.submitted/${inspectionId}`,
      entryId,
      kind: 'inspection.submitted',
      facts: { inspectionId, revision, verdict },
    });
  },
});

interface Submission {
  entryId: string;
  key: string;
  body: SubmitInspection;
  requestId: string;
  /** the language that the answer is wanted in */
  accepts: Accepts;
}

/** What is decided, before it is written. */
interface Submitted {
  actor: Actor;
  submission: Submission;
  request: Repeatable;
  entry: LockedEntry;
  inspection: NewInspection;
  judgement: Judgement;
  wet: WetTyres | undefined;
  /** absent: no place on the line */
  ticket: { ticketId: string; place: number } | undefined;
  answer: Answer & { bodyText: string };
}

/**
 * Submits a declaration as the next revision and judges it. Verdict, place on the line, clearance, history and the
 * message to the entrant are decided in one transaction of three statements: the lock, what decides, the write. A sign-off
 * before it no longer counts.
 *
 * @throws ProblemError `not-found`, `declarations-closed`, `state-moved-on` (withdrawn), `answers-not-acceptable`,
 *   `not-acceptable` (who said it), `idempotency-key-reused`
 */
export async function submitInspection(deps: Deps, actor: Actor, submission: Submission): Promise<Answer> {
  const route = `POST /v1/entries/${submission.entryId}/inspections`;
  const { entryId, key, body } = submission;
  const request = repeatable({ actor, route, key, body });
  return inPlainTransaction(deps.db.pool, async (tx) => {
    const ticketId = uuidV7();
    const at = { entry: Prisma.sql`${entryId}::uuid`, level: 'decide' } as const;
    const row = await lockAndRead(tx, at, () =>
      readForSubmission(tx, { entryId, request, ticketId, clock: deps.clock }),
    );
    if (row === undefined) throw notFound('entry');
    const replayed = replayKept(row, request);
    if (replayed !== undefined) return replayed;
    const rules = await getRulesIn(tx, toRulesRef(row));
    const submitted = decide(row, rules, { actor, submission, request, ticketId });
    await tx.commitWith(writeSubmitted(submitted));
    return submitted.answer;
  });
}

const toRulesRef = ({ ruleSetId, ruleSetVersion, resolvedHash }: SubmissionRow) => ({
  ruleSetId,
  ruleSetVersion,
  resolvedHash,
});

function decide(
  row: SubmissionRow,
  rules: JudgingRules,
  { actor, submission, request, ticketId }: Pick<Submitted, 'actor' | 'submission' | 'request'> & { ticketId: string },
): Submitted {
  const { now: at, place } = row;
  const entry = toEntry(row);
  const context = toJudgingContext(entry.entryId, row);
  if (entry.facts.withdrawn) throw entryWithdrawn();
  assertTakesPlace(entry);
  const said = whoSaid(actor, entry, submission.body.saidBy);
  if (actor.role === 'entrant') assertOpen(entry, context, at);
  const raw = answersToSubmit(submission, row.draft);
  const answers = readAnswers(raw, '/answers');
  const judgement = judgeEntry(rules, context, { answers, stage: 'declaration', now: at });
  const inspection: NewInspection = {
    inspectionId: uuidV7(),
    entryId: entry.entryId,
    revision: row.revisions + 1,
    answers: raw,
    said: saidOf(row, answers),
    cause: 'submitted',
    ...keepJudgement(rules, context, judgement),
    by: { tokenId: actor.tokenId, name: said },
    at,
  };
  const ticket = judgement.verdict === 'barred' ? undefined : { ticketId, place };
  const findings = wordsIn(inspection.findings, rules, submission.accepts);
  const told = { ...inspection, findings, carNumber: entry.carNumber, submittedAt: at };
  const bodyText = JSON.stringify(
    viewJudged(told, { missing: listMissing(answers, context.vehicle, 'entrant'), signatures: row.signatures }, ticket),
  );
  const headers = { location: `/v1/inspections/${inspection.inspectionId}` };
  return {
    actor,
    submission,
    request,
    entry,
    inspection,
    judgement,
    wet: judgeWetTyres(rules, context, { answers }),
    ticket,
    answer: { status: 201, bodyText, headers },
  };
}

/** Everything that a submission changes, each row once, in one statement. */
function writeSubmitted(submitted: Submitted): Statement {
  const { actor, submission, request, entry, inspection, judgement, wet, ticket, answer } = submitted;
  const { entryId, inspectionId, revision, at } = inspection;
  const { requestId } = submission;
  const row = appendToEntry(entry, {
    actor,
    at,
    action: 'inspection.submitted',
    happening: {
      type: 'declared',
      inspectionId,
      revision,
      verdict: judgement.verdict,
      bars: standingBars(judgement.findings),
      wet,
    },
    ...(actor.role === 'entrant' ? {} : { data: { typedByStaff: true } }),
    requestId,
  });
  const { said } = inspection;
  const draft = { entryId, answers: JSON.stringify(inspection.answers), said, by: actor.tokenId, at };
  const parts = {
    remembered: rememberPart(request, answer),
    declared: inspectionPart(inspection),
    ...(submission.body.answers === undefined ? {} : { drafted: draftPart(draft) }),
    ...closeTicketParts(entryId, 'void', at),
    ...(ticket === undefined
      ? {}
      : { queued: openTicketPart(entry, { ticketId: ticket.ticketId, inspectionId, queuedAt: at }) }),
    appended: historyPart([row]),
    folded: entryHeadPart(entry),
    ordered: outboxPart([{ name: inspectionNotifyJob.name, payload: { inspectionId }, requestId }]),
  };
  const told = Prisma.sql`${historyNotify(entry.eventId)}, ${OUTBOX_NOTIFY}`;
  return writeAtOnce(parts, Prisma.sql`${mustChange('remembered')}, ${told}`);
}

/** What a shop signed in the draft and was sent as it was signed. */
function saidOf({ said, draft }: SubmissionRow, answers: Answers): Said {
  if (said === null || draft === null || Object.keys(said).length === 0) return {};
  return stillSaid(said, usable({ answers: draft }), answers);
}

/** The entrant speaks for himself; an inspector types what somebody of the entry says, whose name stands with it. */
function whoSaid(actor: Actor, entry: LockedEntry, saidBy: string | undefined): string {
  const ofEntrant = actor.role === 'entrant';
  if (ofEntrant && saidBy === undefined) return actor.name;
  const named = saidBy !== undefined && entry.personKeys.includes(personKey(saidBy));
  if (!ofEntrant && named) return saidBy;
  const detail = ofEntrant
    ? 'You speak for yourself; leave it out.'
    : 'Name who of the entry said it, as the entry has the name.';
  throw new ProblemError('not-acceptable', detail, {
    errors: [{ pointer: '/saidBy', code: ofEntrant ? 'not-yours' : 'unknown-person', detail, in: 'body' }],
  });
}

function assertOpen({ entryId, facts }: LockedEntry, context: JudgingContext, now: Date): void {
  if (isOpen(context, now)) return;
  const { opensAt, closesAt } = windowView(context, now);
  const closed = `Declarations can be submitted from ${opensAt} until ${closesAt}.`;
  const wayOut = facts.declared === undefined ? wayToDeclareAtLine(entryId) : wayBackToLine(entryId);
  throw new ProblemError('declarations-closed', `${closed} Ask an inspector at the line: ${wayOut.words}`, {
    opensAt,
    closesAt,
    wayOut,
  });
}

function answersToSubmit({ body }: Submission, draft: SubmissionRow['draft']): Record<string, unknown> {
  const answers = body.answers ?? draft;
  if (answers !== null) return answers;
  throw new ProblemError('answers-not-acceptable', 'No draft is saved and no answers were sent.', {
    errors: [{ pointer: '/answers', code: 'missing', detail: 'Save a draft first, or send the answers.', in: 'body' }],
  });
}
