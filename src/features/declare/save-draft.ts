import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { cautionIn, GENERAL_CAUTION } from '../../domain/cautions.ts';
import {
  type Answers,
  type Cell,
  cellKey,
  listMissing,
  listNotApplicable,
  parseAnswers,
  parseCellKey,
} from '../../domain/declaration/declaration.ts';
import { type Said, stillSaid } from '../../domain/declaration/basis.ts';
import { type AskedCell, stillOpen } from '../../domain/rules/judge/asked.ts';
import { type Finding, tallyOf, withoutMet } from '../../domain/rules/model/finding.ts';
import { assertIfMatch, etagOf, languageOf, stale } from '../../http/frame/headers.ts';
import { findingsIn, languagesOf } from '../../domain/rules/says/rule-words.ts';
import { viewFindings, type WhichFindings } from '../../http/views/finding-view.ts';
import { notFound } from '../../http/frame/problem.ts';
import {
  findInspection,
  listInspections,
  type NewInspection,
  type StoredInspection,
  tallyOfStored,
  type ToldFindings,
} from '../../records/judging/inspections.ts';
import { judgedBy, judgeDraftAgain, type JudgedAnswers, readAnswers } from '../../records/judging/judge-entry.ts';
import { findJudgingContext, type JudgingContext, toJudgingContext } from '../../records/judging/judging-context.ts';
import { getRules, getRulesIn, type JudgingRules } from '../../records/judging/rules.ts';
import { withWhole } from '../../records/judging/replay.ts';
import { findSignatures, type Signature, viewSaid } from '../../records/evidence.ts';
import { findPlace, type Place } from '../../records/tickets.ts';
import { type Accepts, usable, viewAsked, viewDoubts } from './form.ts';
import type { DraftView, InspectionView, SaveDraft } from './schemas.ts';
import { type OnConnection, onOneConnection } from '../../platform/database/plain-transaction.ts';
import { getDraft, readForDraft, saveDraft } from './store.ts';

/**
 * Saves the entrant's answers so far and says what the rules make of them. A draft decides nothing, so it may be saved
 * at any time and leaves no history.
 *
 * @throws ProblemError `not-found`, `precondition-required`, `precondition-failed`, `answers-not-acceptable`
 */
export async function saveDeclarationDraft(deps: Deps, actor: Actor, input: Saving): Promise<DraftView> {
  const { entryId } = input;
  const { pool, prisma } = deps.db;
  const saved = await onOneConnection(pool, (on) => saveAndJudge(on, deps, actor, input));
  if (saved === undefined) throw stale(etagOf((await getDraft(prisma, entryId)).rev));
  const { draftRev, told, said } = saved;
  return { entryId, draftRev, ...told, said: viewSaid(said, await findSignatures(prisma, entryId, said)) };
}

interface Saving {
  entryId: string;
  ifMatch: string | undefined;
  body: SaveDraft;
  which: WhichFindings;
  accepts: Accepts;
}

/** Undefined: somebody saved another version meanwhile. */
async function saveAndJudge(on: OnConnection, { clock }: Deps, actor: Actor, input: Saving) {
  const { entryId } = input;
  const last = found.get(entryId);
  const row = await readForDraft(on, { entryId, known: last?.rev ?? 0 });
  if (row === undefined) throw notFound('entry');
  const { rev } = row;
  const context = toJudgingContext(entryId, row);
  assertIfMatch(input.ifMatch, etagOf(rev));
  const answers = readAnswers(input.body.answers, '/answers');
  const rules = await getRulesIn(on, context);
  const now = clock.now();
  const saved = last?.rev === rev ? last.judged.asked.answers : usable({ answers: row.saved ?? {} });
  const said = stillSaid(row.said ?? {}, saved, answers);
  const text = JSON.stringify(input.body.answers);
  const saving = saveDraft(on, { entryId, rev, answers: text, said, by: actor.tokenId, at: now });
  // it is waited for below; what goes wrong before that is not to be lost for it
  saving.catch(() => undefined);
  // while the database writes
  const before = input.which === 'all' ? undefined : saved;
  const judged = judgeDraft(rules, context, { answers, before, last, now, accepts: input.accepts });
  if (!(await saving)) return undefined;
  keepFound(entryId, { rev: rev + 1, ...judged.found });
  return { draftRev: rev + 1, told: judged.told, said };
}

/** What a save says, but for what was saved. */
export type JudgedDraft = Omit<DraftView, 'entryId' | 'draftRev' | 'said'>;

/**
 * What the rules say of answers that were saved; with those `before`, what they say otherwise.
 *
 * @param input `last` what was found of answers of this entry, of those before or others: only what changed since is worked out again
 */
export function judgeDraft(
  rules: JudgingRules,
  context: JudgingContext,
  input: { answers: Answers; before: Answers | undefined; last?: Found | undefined; now: Date; accepts: Accepts },
): { told: JudgedDraft; found: Omit<Found, 'rev'> } {
  const { answers, before, now } = input;
  const by = judgedBy(rules, context, now);
  const last = input.last?.by === by ? input.last : undefined;
  const isKnown = before === undefined || before === last?.judged.asked.answers;
  const was = isKnown ? last?.judged : judgeDraftAgain(rules, context, { answers: before, now, before: last?.judged });
  const judged = judgeDraftAgain(rules, context, { answers, now, before: was });
  const { judgement, asked } = judged;
  const { changed, gone } = compareFindings(before && was, judged);
  const open = last?.judged.asked.asked === asked.asked ? last.open : findOpen(asked.asked, answers, context);
  const told = {
    verdict: judgement.verdict,
    tally: tallyOf(judgement.findings),
    judgedBy: by,
    findings: viewFindings(wordsIn(changed, rules, input.accepts)),
    gone: gone.map(({ ruleId, position }) => (position === undefined ? { ruleId } : { ruleId, position })),
    asked: viewAsked(asked.asked),
    ...open,
    doubts: viewDoubts(context, answers, languageFor(rules, input.accepts)),
    caution: cautionIn('general', languageFor(rules, input.accepts)),
  };
  return { told, found: { by, judged, open } };
}

/** What is not there of what is asked, and what is there that does not apply: the same as long as the same cells are answered. */
function findOpen(asked: readonly AskedCell[], answers: Answers, { vehicle }: JudgingContext) {
  return {
    missing: stillOpen(asked, answers).map(({ cell }) => parseCellKey(cell)),
    notApplicable: listNotApplicable(answers, vehicle).map((cell) => cellKey(cell.key, cell.position, cell.field)),
  };
}

/** What was found of a draft, and by what: see `judgedBy`. */
interface Found {
  rev: number;
  by: string;
  judged: JudgedAnswers;
  open: ReturnType<typeof findOpen>;
}

/** Who types saves again soon, mostly to the same process: what it found last time is not worked out anew. */
const found = new Map<string, Found>();
const MAX_FOUND = 200;

function keepFound(entryId: string, last: Found): void {
  found.delete(entryId);
  found.set(entryId, last);
  const [oldest] = found.keys();
  if (found.size > MAX_FOUND && oldest !== undefined) found.delete(oldest);
}

/** What stands otherwise than before, or anew; and what is no more. All is anew where there is nothing before. */
function compareFindings(before: JudgedAnswers | undefined, after: JudgedAnswers) {
  const changed: Finding[] = [];
  const gone: Finding[] = [];
  for (const [index, { result: is }] of after.gone.steps.entries()) {
    const was = before?.gone.steps[index]?.result;
    if (is === was) continue;
    if (is === undefined) gone.push(was as Finding);
    else if (was === undefined || JSON.stringify(was) !== JSON.stringify(is)) changed.push(is);
  }
  return { changed, gone };
}

/**
 * One revision; an entrant sees those of the own entry only.
 *
 * @throws ProblemError `not-found`
 */
export async function getInspection(
  deps: Deps,
  actor: Actor,
  { inspectionId, which, accepts }: { inspectionId: string; which: WhichFindings; accepts: Accepts },
): Promise<InspectionView> {
  const inspection = await findInspection(deps.db.prisma, inspectionId);
  const hidden = actor.role === 'entrant' && inspection?.entryId !== actor.entryId;
  if (inspection === undefined || hidden) throw notFound('inspection');
  const db = deps.db.prisma;
  const told = await inWords(deps, which === 'all' ? await withWhole(db, inspection) : inspection, accepts);
  const signatures = await findSignatures(db, inspection.entryId, inspection.said);
  return viewInspection(told, { ticket: await findPlace(db, inspectionId), which, signatures });
}

/**
 * All revisions of an entry, newest first. Only the newest can be on the line.
 *
 * @throws ProblemError `not-found`
 */
export async function listRevisions(deps: Deps, entryId: string, which: WhichFindings): Promise<InspectionView[]> {
  const db = deps.db.prisma;
  if ((await findJudgingContext(db, entryId)) === undefined) throw notFound('entry');
  const [newest, ...older] = await listInspections(db, entryId);
  if (newest === undefined) return [];
  const place = await findPlace(db, newest.inspectionId);
  const said = Object.assign({}, ...[newest, ...older].map((one) => one.said)) as Said;
  const signatures = await findSignatures(db, entryId, said);
  const views = [];
  for (const one of [newest, ...older]) {
    const told = which === 'all' ? await withWhole(db, one) : one;
    views.push(viewInspection(told, { ticket: one === newest ? place : undefined, which, signatures }));
  }
  return views;
}

/** Findings in the language that was asked for. */
export function wordsIn(findings: readonly Finding[], rules: JudgingRules, accepts: Accepts): readonly Finding[] {
  return findingsIn(findings, rules.compiled.ruleSet, languageFor(rules, accepts));
}

const languageFor = ({ compiled }: JudgingRules, accepts: Accepts): string =>
  languageOf(accepts, languagesOf(compiled.ruleSet));

/** A revision, its findings in the language that was asked for: by the rules that judged it. */
async function inWords(deps: Deps, inspection: Told, accepts: Accepts): Promise<Told> {
  const rules = await getRules(deps.db.prisma, inspection);
  return { ...inspection, findings: [...wordsIn(inspection.findings, rules, accepts)] };
}

/** As it is kept, or with all that was told and whether the same comes out again. */
type Told = StoredInspection & Partial<Pick<ToldFindings, 'judgedAgain'>>;

/** What callers read of a submitted revision. `ticket` is its place on the line now. */
function viewInspection(
  inspection: Told,
  { ticket, which, signatures }: { ticket: Place | undefined; which: WhichFindings; signatures: readonly Signature[] },
): InspectionView {
  const parsed = parseAnswers(inspection.answers);
  const missing = parsed.ok ? listMissing(parsed.answers, inspection.vehicle, 'entrant') : [];
  return viewJudged(inspection, { missing, signatures }, ticket, which);
}

/** The same of one of which more is known: its missing answers, and who signed. */
export function viewJudged(
  inspection: Omit<NewInspection, 'vehicle' | 'context' | 'by' | 'at' | 'kept'> &
    Pick<Told, 'carNumber' | 'submittedAt' | 'kept' | 'judgedAgain'>,
  { missing, signatures }: { missing: readonly Cell[]; signatures: readonly Signature[] },
  ticket: Place | undefined,
  which: WhichFindings = 'counting',
): InspectionView {
  const { findings, kept, judgedAgain } = inspection;
  return {
    inspectionId: inspection.inspectionId,
    entryId: inspection.entryId,
    carNumber: inspection.carNumber,
    revision: inspection.revision,
    ruleSetId: inspection.ruleSetId,
    ruleSetVersion: inspection.ruleSetVersion,
    rulesHash: inspection.resolvedHash,
    cause: inspection.cause,
    parameters: inspection.parameters,
    verdict: inspection.verdict,
    tally: tallyOfStored(inspection),
    evaluator: kept?.evaluator ?? null,
    ...(judgedAgain === undefined ? {} : { judgedAgain }),
    findings: viewFindings(which === 'all' ? findings : withoutMet(findings)),
    missing: [...missing],
    answers: inspection.answers,
    said: viewSaid(inspection.said, signatures),
    ticket: ticket ?? null,
    submittedAt: inspection.submittedAt.toISOString(),
    caution: GENERAL_CAUTION,
  };
}
