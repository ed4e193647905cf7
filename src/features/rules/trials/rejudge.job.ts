import { v7 as uuidV7 } from 'uuid';
import { z } from 'zod';
import type { Deps } from '../../../deps.ts';
import type { Actor } from '../../../domain/actor.ts';
import { standingBars } from '../../../domain/clearance/clearance.ts';
import { decideRejudge, recallReason } from '../../../domain/clearance/rejudge.ts';
import type { WetTyres } from '../../../domain/clearance/wet-tyres.ts';
import { parseAnswers } from '../../../domain/declaration/declaration.ts';
import type { Judgement } from '../../../domain/rules/model/finding.ts';
import { inTransaction, type Tx } from '../../../platform/database/db.ts';
import { defineJob } from '../../../platform/queue/job.ts';
import { recordCarHistory, recordEntryHistory } from '../../../records/history/history.ts';
import {
  findInspection,
  insertInspection,
  nextRevision,
  type StoredInspection,
} from '../../../records/judging/inspections.ts';
import { judgeEntry, judgeWetTyres, keepJudgement, measuredAtLine } from '../../../records/judging/judge-entry.ts';
import { findJudgingContext, type JudgingContext } from '../../../records/judging/judging-context.ts';
import { getRules, type JudgingRules } from '../../../records/judging/rules.ts';
import { type LockedEntry, lockEntry } from '../../../records/locks/entry-lock.ts';
import { notifyEntrant } from '../../../records/notify-entrant.ts';
import {
  failTask,
  finishTask,
  noteTaskItem,
  reportProgress,
  startTask,
  type StoredTask,
} from '../../../records/tasks.ts';
import { closeTicket, openTicket } from '../../../records/tickets.ts';
import type { EntryOutcome, RejudgeInput } from './schemas.ts';
import { countDone, findQueuedAt, listOpenEntries } from './store.ts';

interface Rejudgement {
  taskId: string;
  actor: Actor;
  reason: string;
  /** the rules the organizer asked for; the group must still have them */
  rulesHash: string;
  now: Date;
}

/** What re-judging needs to know of one entry. */
interface Subject {
  entry: LockedEntry;
  context: JudgingContext;
  inspection: StoredInspection;
  /** those of now */
  rules: JudgingRules;
  /** the tyres on a wet track under the rules of now, as declared */
  wet: WetTyres | undefined;
}

/** Thrown when the run group was given other rules while the task ran: what was asked for no longer applies. */
class RulesMovedOn extends Error {}

/**
 * Judges one entry anew under the rules of its run group, in the caller's transaction, and says what came of it.
 *
 * @throws RulesMovedOn when the group no longer has the rules that were asked for
 */
async function rejudgeEntry(tx: Tx, entryId: string, what: Rejudgement): Promise<EntryOutcome> {
  const entry = await lockEntry(tx, entryId, 'change');
  const context = await findJudgingContext(tx, entryId);
  if (entry === undefined || context === undefined) return { outcome: 'gone', entryId, carNumber: '' };
  const about = { entryId, carNumber: entry.carNumber };
  if (context.resolvedHash !== what.rulesHash) throw new RulesMovedOn('the run group has other rules now');
  const { declared } = entry.facts;
  const inspection = declared === undefined ? undefined : await findInspection(tx, declared.inspectionId);
  if (inspection === undefined) return { outcome: entry.facts.withdrawn ? 'withdrawn' : 'not-declared', ...about };
  if (inspection.resolvedHash === context.resolvedHash) return { outcome: 'same-rules', ...about };
  const before = await getRules(tx, inspection);
  const after = await getRules(tx, context);
  const measured = await measuredAtLine(tx, inspection.inspectionId);
  const parsed = parseAnswers(inspection.answers);
  const answers = parsed.ok ? parsed.answers : new Map();
  const judge = (stage: 'declaration' | 'line'): Judgement =>
    judgeEntry(after, context, { answers, ...(stage === 'line' ? { measured } : {}), stage, now: what.now });
  const decision = decideRejudge(entry.facts, before.compiled.ruleSet, after.compiled.ruleSet, () => judge('line'));
  if (decision.act === 'none') return { outcome: decision.why, ...about };
  const subject = { entry, context, inspection, rules: after, wet: judgeWetTyres(after, context, { answers }) };
  const judgement = judge('declaration');
  if (decision.act === 'judge-anew') return { ...about, ...(await judgeAnew(tx, subject, judgement, what)) };
  const reason = recallReason(decision.findings, what.reason);
  return { ...about, ...(await recall(tx, subject, judgement, { ...what, reason })) };
}

/** The same answers under other rules: a new revision, which decides like a submitted one. It keeps its place. */
async function judgeAnew(tx: Tx, { entry, ...subject }: Subject, judgement: Judgement, what: Rejudgement) {
  const queuedAt = (await findQueuedAt(tx, entry.entryId)) ?? what.now;
  const { inspectionId, revision } = await addRevision(tx, subject, judgement, what);
  await closeTicket(tx, entry, 'void', what.now);
  if (judgement.verdict !== 'barred') await openTicket(tx, entry, { inspectionId, queuedAt });
  const { verdict, findings } = judgement;
  const event = {
    type: 'declared' as const,
    inspectionId,
    revision,
    verdict,
    bars: standingBars(findings),
    wet: subject.wet,
  };
  await recordAndNotify(tx, entry, { action: 'inspection.rejudged', event, inspectionId, what });
  return { outcome: 'judged-anew' as const, before: subject.inspection.verdict, after: verdict, inspectionId };
}

/** An accepted car goes back to the line, whatever its declaration says: the line decides with what it measures. */
async function recall(tx: Tx, { entry, ...subject }: Subject, judgement: Judgement, what: Rejudgement) {
  const { inspectionId, revision } = await addRevision(tx, subject, judgement, what);
  await closeTicket(tx, entry, 'void', what.now);
  await openTicket(tx, entry, { inspectionId, queuedAt: what.now });
  const { verdict } = judgement;
  const event = { type: 'recalled' as const, inspectionId, revision, verdict, reason: what.reason };
  await recordCarHistory(tx, entry.car, {
    actor: what.actor,
    at: what.now,
    action: 'car.recalled',
    happening: { type: 'car-recalled', entryId: entry.entryId, runGroup: entry.runGroup, reason: what.reason },
    requestId: `task-${what.taskId}`,
  });
  await recordAndNotify(tx, entry, { action: 'entry.recalled', event, inspectionId, what });
  return { outcome: 'recalled' as const, reason: what.reason, inspectionId };
}

async function addRevision(
  tx: Tx,
  { rules, context, inspection }: Omit<Subject, 'entry'>,
  judgement: Judgement,
  what: Rejudgement,
): Promise<{ inspectionId: string; revision: number }> {
  const inspectionId = uuidV7();
  const revision = await nextRevision(tx, inspection.entryId);
  await insertInspection(tx, {
    inspectionId,
    entryId: inspection.entryId,
    revision,
    answers: inspection.answers,
    // The answers are the same, and so is who said them.
    said: inspection.said,
    cause: 'rejudged',
    ...keepJudgement(rules, context, judgement),
    by: what.actor,
    at: what.now,
  });
  return { inspectionId, revision };
}

async function recordAndNotify(
  tx: Tx,
  entry: LockedEntry,
  happened: {
    action: 'inspection.rejudged' | 'entry.recalled';
    event: NonNullable<Parameters<typeof recordEntryHistory>[2]['happening']>;
    inspectionId: string;
    what: Rejudgement;
  },
): Promise<void> {
  const { taskId, actor, reason, now } = happened.what;
  const requestId = `task-${taskId}`;
  await recordEntryHistory(tx, entry, {
    actor,
    at: now,
    action: happened.action,
    happening: happened.event,
    data: { taskId, reason },
    requestId,
  });
  await notifyEntrant(tx, { entryId: entry.entryId, kind: happened.action, id: happened.inspectionId, requestId });
}

const Payload = z.strictObject({ taskId: z.uuid() });
const ATTEMPTS = 8;
const REPORT_EVERY = 10;

/**
 * Judges every entry of a run group anew, each in its own transaction with the note that it is done: a job that runs
 * twice, or that is killed half-way and starts again, does nothing twice.
 */
export const rejudgeJob = defineJob<Deps, z.infer<typeof Payload>>({
  name: 'run-group.rejudge',
  payload: Payload,
  attempts: ATTEMPTS,
  backoffMs: 2000,
  async handle(deps, { taskId }, context) {
    const db = deps.db.prisma;
    const task = await startTask(db, taskId, deps.clock.now());
    if (task === undefined) return;
    try {
      const done = await judgeAll(deps, task);
      await finishTask(db, taskId, { done, total: done, result: null, at: deps.clock.now() });
    } catch (error) {
      if (error instanceof RulesMovedOn) {
        const says = 'The run group was given other rules meanwhile. Ask again with the hash it has now.';
        return failTask(db, taskId, says, deps.clock.now());
      }
      const says = 'The work broke off. What is listed is done; ask again for the rest.';
      if (context.attempt >= ATTEMPTS) await failTask(db, taskId, says, deps.clock.now());
      throw error;
    }
  },
});

async function judgeAll(deps: Deps, task: StoredTask): Promise<number> {
  const { taskId, subjectId, createdBy } = task;
  const { reason, rulesHash } = task.request as RejudgeInput;
  const open = await listOpenEntries(deps.db.prisma, subjectId, taskId);
  const before = await countDone(deps.db.prisma, taskId);
  const total = before + open.length;
  for (const [index, entryId] of open.entries()) {
    if (index % REPORT_EVERY === 0) await reportProgress(deps.db.prisma, taskId, { done: before + index, total });
    await inTransaction(deps.db.prisma, async (tx) => {
      const what = { taskId, actor: createdBy, reason, rulesHash, now: deps.clock.now() };
      const outcome = await rejudgeEntry(tx, entryId, what);
      // Another worker on the same task was here first: take back what this one did.
      if (!(await noteTaskItem(tx, { taskId, itemId: entryId, outcome }))) throw new AlreadyDone();
    }).catch((error) => {
      if (!(error instanceof AlreadyDone)) throw error;
    });
  }
  return total;
}

class AlreadyDone extends Error {}
