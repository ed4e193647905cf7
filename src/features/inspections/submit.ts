import { v7 as uuidV7 } from 'uuid';
import { type Actor, personKey } from '../../domain/actor.ts';
import type { Judgement } from '../../domain/rules/finding.ts';
import { standingBars } from '../../domain/standing-bars.ts';
import type { Deps } from '../../deps.ts';
import { once } from '../../http/idempotency.ts';
import { notFound, ProblemError } from '../../http/problem.ts';
import type { Answer } from '../../http/route.ts';
import { wayBackToLine, wayToDeclareAtLine } from '../../http/way-out.ts';
import { inTransaction, type Tx } from '../../platform/db.ts';
import { appendOutbox } from '../../platform/outbox.ts';
import { readAnswers } from '../../records/answers.ts';
import { entryWithdrawn } from '../../records/entry-for-change.ts';
import { type LockedEntry, lockEntry } from '../../records/entry-lock.ts';
import { recordEvent } from '../../records/history.ts';
import { findInspection, insertInspection, nextRevision } from '../../records/inspections.ts';
import { judgeEntry, keptContext } from '../../records/judge-entry.ts';
import { findJudgingContext, type JudgingContext } from '../../records/judging-context.ts';
import { getRules } from '../../records/rules.ts';
import { closeTicket, findPlace, openTicket } from '../../records/tickets.ts';
import { isOpen, windowView } from './form.ts';
import { inspectionNotifyJob } from './notify.job.ts';
import type { SubmitInspection } from './schemas.ts';
import { getDraft, replaceDraft } from './store.ts';
import { viewInspection } from './view.ts';

interface Submission {
  entryId: string;
  key: string;
  body: SubmitInspection;
  requestId: string;
}

/**
 * Submits a declaration as the next revision and judges it. Verdict, place on the line, clearance, history and the
 * message to the entrant are decided in one transaction. A sign-off before it no longer counts.
 *
 * @throws ProblemError `not-found`, `declarations-closed`, `state-moved-on` (withdrawn), `answers-not-acceptable`,
 *   `not-acceptable` (who said it), `idempotency-key-reused`
 */
export async function submitInspection(deps: Deps, actor: Actor, submission: Submission): Promise<Answer> {
  const route = `POST /v1/entries/${submission.entryId}/inspections`;
  const { key, body } = submission;
  return inTransaction(deps.db.prisma, (tx) =>
    once(tx, { actor, route, key, body }, () => submit(tx, actor, submission, deps.clock.now())),
  );
}

async function submit(tx: Tx, actor: Actor, submission: Submission, now: Date): Promise<Answer> {
  const entry = await lockEntry(tx, submission.entryId);
  const context = await findJudgingContext(tx, submission.entryId);
  if (entry === undefined || context === undefined) throw notFound('entry');
  if (entry.facts.withdrawn) throw entryWithdrawn();
  const said = whoSaid(actor, entry, submission.body.saidBy);
  if (actor.role === 'entrant') assertOpen(entry, context, now);
  const raw = await answersToSubmit(tx, submission);
  const answers = readAnswers(raw, '/answers');
  const rules = await getRules(tx, context);
  const judgement = judgeEntry(rules, context, { answers, stage: 'declaration', now });
  const inspectionId = uuidV7();
  const revision = await nextRevision(tx, entry.entryId);
  await insertInspection(tx, {
    inspectionId,
    entryId: entry.entryId,
    revision,
    answers: raw,
    vehicle: context.vehicle,
    context: keptContext(context),
    ruleSetId: context.ruleSetId,
    ruleSetVersion: context.ruleSetVersion,
    resolvedHash: context.resolvedHash,
    parameters: context.parameters,
    cause: 'submitted',
    verdict: judgement.verdict,
    findings: judgement.findings,
    by: { tokenId: actor.tokenId, name: said },
    at: now,
  });
  if (submission.body.answers !== undefined) {
    await replaceDraft(tx, { entryId: entry.entryId, answers: raw, by: actor.tokenId, at: now });
  }
  await moveOnLine(tx, entry, { inspectionId, judgement, at: now });
  await record(tx, entry, { actor, submission, inspectionId, revision, judgement, now });
  const stored = await findInspection(tx, inspectionId);
  if (stored === undefined) throw notFound('inspection');
  const view = viewInspection(stored, await findPlace(tx, inspectionId));
  return { status: 201, body: view, headers: { location: `/v1/inspections/${inspectionId}` } };
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

async function answersToSubmit(tx: Tx, submission: Submission): Promise<Record<string, unknown>> {
  if (submission.body.answers !== undefined) return submission.body.answers;
  const draft = await getDraft(tx, submission.entryId);
  if (draft.rev > 0) return draft.answers;
  throw new ProblemError('answers-not-acceptable', 'No draft is saved and no answers were sent.', {
    errors: [{ pointer: '/answers', code: 'missing', detail: 'Save a draft first, or send the answers.', in: 'body' }],
  });
}

async function moveOnLine(
  tx: Tx,
  entry: LockedEntry,
  what: { inspectionId: string; judgement: Judgement; at: Date },
): Promise<void> {
  await closeTicket(tx, entry, 'void', what.at);
  if (what.judgement.verdict === 'barred') return;
  await openTicket(tx, entry, { inspectionId: what.inspectionId, queuedAt: what.at });
}

async function record(
  tx: Tx,
  entry: LockedEntry,
  what: {
    actor: Actor;
    submission: Submission;
    inspectionId: string;
    revision: number;
    judgement: Judgement;
    now: Date;
  },
): Promise<void> {
  const { inspectionId, revision, judgement } = what;
  const { requestId } = what.submission;
  await recordEvent(tx, entry, {
    actor: what.actor,
    at: what.now,
    action: 'inspection.submitted',
    event: {
      type: 'declared',
      inspectionId,
      revision,
      verdict: judgement.verdict,
      bars: standingBars(judgement.findings),
    },
    ...(what.actor.role === 'entrant' ? {} : { data: { typedAtLine: true } }),
    requestId,
  });
  await appendOutbox(tx, { name: inspectionNotifyJob.name, payload: { inspectionId }, requestId });
}
