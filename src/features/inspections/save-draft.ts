import type { Actor } from '../../domain/actor.ts';
import { GENERAL_CAUTION } from '../../domain/caution-text.ts';
import { cellKey, listMissing, listNotApplicable } from '../../domain/declaration.ts';
import type { Deps } from '../../deps.ts';
import { assertIfMatch, etagOf, stale } from '../../http/etag.ts';
import { viewFindings } from '../../http/finding-view.ts';
import { notFound } from '../../http/problem.ts';
import { readAnswers } from '../../records/answers.ts';
import { judgeEntry } from '../../records/judge-entry.ts';
import { findJudgingContext } from '../../records/judging-context.ts';
import { getRules } from '../../records/rules.ts';
import type { DraftView, SaveDraft } from './schemas.ts';
import { getDraft, saveDraft } from './store.ts';

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
  const db = deps.db.prisma;
  const context = await findJudgingContext(db, input.entryId);
  if (context === undefined) throw notFound('entry');
  const { rev } = await getDraft(db, input.entryId);
  assertIfMatch(input.ifMatch, etagOf(rev));
  const answers = readAnswers(input.body.answers, '/answers');
  const now = deps.clock.now();
  const draft = { entryId: input.entryId, rev, answers: input.body.answers, by: actor.tokenId, at: now };
  if (!(await saveDraft(db, draft))) throw stale(etagOf((await getDraft(db, input.entryId)).rev));
  const rules = await getRules(db, context);
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
