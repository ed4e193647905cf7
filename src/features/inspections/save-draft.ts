import type { Actor } from '../../domain/actor.ts';
import { GENERAL_CAUTION } from '../../domain/caution-text.ts';
import { cellKey, listMissing, listNotApplicable } from '../../domain/declaration.ts';
import type { Deps } from '../../deps.ts';
import { assertIfMatch, etagOf, stale } from '../../http/etag.ts';
import { viewFindings } from '../../http/finding-view.ts';
import { notFound } from '../../http/problem.ts';
import { readAnswers } from '../../records/answers.ts';
import { judgeEntry } from '../../records/judge-entry.ts';
import { toJudgingContext } from '../../records/judging-context.ts';
import { getRules } from '../../records/rules.ts';
import type { DraftView, SaveDraft } from './schemas.ts';
import { getDraft, readForDraft, saveDraft } from './store.ts';

/**
 * Saves the entrant's answers so far and says what the rules make of them. A draft decides nothing, so it may be saved
 * at any time and leaves no history.
 *
 * @throws ProblemError `not-found`, `precondition-required`, `precondition-failed`, `answers-not-acceptable`
 */
export async function saveDeclarationDraft(
  deps: Deps,
  actor: Actor,
  input: { entryId: string; ifMatch: string | undefined; body: SaveDraft },
): Promise<DraftView> {
  const { pool, prisma } = deps.db;
  const row = await readForDraft(pool, input.entryId);
  if (row === undefined) throw notFound('entry');
  const { rev } = row;
  const context = toJudgingContext(input.entryId, row);
  assertIfMatch(input.ifMatch, etagOf(rev));
  const answers = readAnswers(input.body.answers, '/answers');
  const now = deps.clock.now();
  const text = JSON.stringify(input.body.answers);
  const draft = { entryId: input.entryId, rev, answers: text, by: actor.tokenId, at: now };
  if (!(await saveDraft(pool, draft))) throw stale(etagOf((await getDraft(prisma, input.entryId)).rev));
  const rules = await getRules(prisma, context);
  const judgement = judgeEntry(rules, context, { answers, stage: 'declaration', now });
  return {
    entryId: input.entryId,
    draftRev: rev + 1,
    verdict: judgement.verdict,
    findings: viewFindings(judgement.findings),
    missing: listMissing(answers, context.vehicle, 'entrant'),
    notApplicable: listNotApplicable(answers, context.vehicle).map((cell) =>
      cellKey(cell.key, cell.position, cell.field),
    ),
    caution: GENERAL_CAUTION,
  };
}
