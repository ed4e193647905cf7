import type { Verdict } from '../../domain/rules/model/finding.ts';
import type { ParameterOverride } from '../../domain/rules/model/rule-set.ts';
import { mergeTrials } from '../../domain/rules/trial/trial-merge.ts';
import type { Flip } from '../../domain/rules/trial/trial-summary.ts';
import { type RuleChange, sideOf, type StoredFinding } from '../../domain/rules/trial/trial.ts';
import type { Vehicle } from '../../domain/vehicle.ts';
import { type TrialSubject, type TrialSummaryView, viewTrialSummary } from '../../http/views/trial-view.ts';
import type { Tx } from '../../platform/database/db.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';
import type { ThreadTask } from '../../platform/threads/thread.ts';
import type { StoredInspection } from './inspections.ts';
import type { SentRules } from './rules.task.ts';
import { findRulesText, keyOfRules } from './rules.ts';
import { type TrialPart, trialTask } from './trial.task.ts';

/** Declarations read in one statement and judged in one task. */
const BATCH = 25;

/** Runs a task in a thread; how long it waits for its turn is for whoever asks. */
export type RunTask = <I, O>(task: ThreadTask<I, O>, input: I) => Promise<O>;

interface TrialPlan {
  /** the rules tried, as they are listed in the result */
  tried: SentRules;
  /** the rules tried as they judge a run group */
  rulesOf(runGroupId: string): SentRules;
  runTask: RunTask;
  /** told after each batch how many are judged */
  onBatch?(done: number): Promise<void>;
}

/**
 * Judges stored declarations under other rules, compares with the judgements they got, and adds up. Reads only; judging
 * is done in a thread, batch after batch, so that a thread that is lost loses nothing that was done.
 */
export async function tryInspections(db: Tx, ids: readonly string[], plan: TrialPlan): Promise<TrialSummaryView> {
  let whole: TrialPart | undefined;
  let done = 0;
  const sent = new Map<string, SentRules>();
  for await (const batch of readAhead(db, ids)) {
    const part = await judgeBatch(db, batch, { ...plan, sent }, whole === undefined);
    whole = whole === undefined ? part : addPart(whole, part);
    done += batch.length;
    await plan.onBatch?.(done);
  }
  const { summary, seen } = whole ?? (await judgeBatch(db, [], { ...plan, sent }, true));
  return viewTrialSummary({ ...summary, flips: await withStoredSides(db, summary.flips) }, seen);
}

function addPart(one: TrialPart, other: TrialPart): TrialPart {
  const seen = {
    hadConcession: one.seen.hadConcession + other.seen.hadConcession,
    unreadable: one.seen.unreadable + other.seen.unreadable,
  };
  return { summary: mergeTrials(one.summary, other.summary), seen };
}

async function judgeBatch(
  db: Tx,
  batch: readonly TrialRow[],
  plan: TrialPlan & { sent: Map<string, SentRules> },
  isFirst: boolean,
): Promise<TrialPart> {
  const rules = new Map([[plan.tried.key, plan.tried]]);
  const ruleOf: Record<string, string> = {};
  const inspections = [];
  for (const { json, runGroupId, isWhole, ...ref } of batch) {
    const tried = plan.rulesOf(runGroupId);
    // what is stored whole needs the rules that judged it only where it is made anew
    const beforeKey = isWhole ? undefined : keyOfRules(ref);
    rules.set(tried.key, tried);
    if (beforeKey !== undefined) rules.set(beforeKey, await rulesOnce(db, plan.sent, ref));
    ruleOf[runGroupId] = tried.key;
    inspections.push({ json, beforeKey });
  }
  const input = { rules: [...rules.values()], listed: plan.tried.key, ruleOf, inspections, isFirst };
  return plan.runTask(trialTask, input);
}

/** Rules that judged before; a trial looks at many declarations that the same judged. */
async function rulesOnce(
  db: Tx,
  sent: Map<string, SentRules>,
  ref: Parameters<typeof keyOfRules>[0],
): Promise<SentRules> {
  const key = keyOfRules(ref);
  const rules = sent.get(key) ?? (await findRulesText(db, ref));
  if (sent.size >= KEPT_RULES) sent.clear();
  sent.set(key, rules);
  return rules;
}

/** Texts of rules that a trial keeps at hand: a megabyte each. */
const KEPT_RULES = 10;

/** Batch after batch; the database reads the next one while this one is judged. */
async function* readAhead(db: Tx, ids: readonly string[]): AsyncGenerator<TrialRow[]> {
  let reading = readTrialInspections(db, ids.slice(0, BATCH));
  for (let from = 0; from < ids.length; from += BATCH) {
    const batch = await reading;
    reading = readTrialInspections(db, ids.slice(from + BATCH, from + 2 * BATCH));
    // When judging fails nobody waits for it any more; when it fails itself, the next turn says so.
    reading.catch(() => undefined);
    yield batch;
  }
}

/** The flips with what the stored findings say of the rules that explain them: values, limits and messages. */
async function withStoredSides(db: Tx, flips: readonly Flip<TrialSubject>[]): Promise<Flip<TrialSubject>[]> {
  const whole: Flip<TrialSubject>[] = [];
  for (let from = 0; from < flips.length; from += BATCH) {
    const batch = flips.slice(from, from + BATCH);
    const ruleIds = new Set(batch.flatMap((flip) => flip.because.filter(isShort).map((change) => change.ruleId)));
    const ids = batch.map((flip) => flip.subject.inspectionId);
    const stored = ruleIds.size === 0 ? NOTHING_READ : await readWholeFindings(db, ids, [...ruleIds]);
    whole.push(...batch.map((flip) => withSides(flip, stored.get(flip.subject.inspectionId) ?? [])));
  }
  return whole;
}

const NOTHING_READ: ReadonlyMap<string, StoredFinding[]> = new Map();

/** A side that was read in short. Where a judgement was made anew, its sides are whole. */
const isShort = ({ before }: RuleChange): boolean => before !== undefined && before.message === undefined;

function withSides(flip: Flip<TrialSubject>, findings: readonly StoredFinding[]): Flip<TrialSubject> {
  const because = flip.because.map((change) => {
    const stored = findings.find((one) => one.ruleId === change.ruleId && one.position === change.position);
    return isShort(change) && stored !== undefined ? { ...change, before: sideOf(stored) } : change;
  });
  return { ...flip, because };
}

/** A submitted revision with what a trial of other rules needs of it. */
export interface TrialInspection extends TrialSubject {
  answers: unknown;
  vehicle: Vehicle;
  context: StoredInspection['context'];
  ruleSetId: string;
  ruleSetVersion: number;
  resolvedHash: string | null;
  parameters: Record<string, ParameterOverride>;
  verdict: Verdict;
  /** the stored judgement had a concession */
  hadConcession: boolean;
  /** null where `findings` are all that were told */
  codes: string | null;
  /** the stored findings in short: see `readTrialInspections` */
  findings: string;
}

/** The newest revisions of the entries of events, or of one run group, in the order of lists: event, group, number. */
export async function listNewestInspections(
  db: Tx,
  of: { eventIds: readonly string[] } | { runGroupId: string },
): Promise<string[]> {
  const where =
    'runGroupId' in of
      ? Prisma.sql`e.run_group_id = ${of.runGroupId}::uuid`
      : Prisma.sql`e.event_id = ANY (${[...of.eventIds]}::uuid[])`;
  const rows = await db.$queryRaw<{ id: string }[]>`
    SELECT i.id
    FROM entries e
    JOIN events ev ON ev.id = e.event_id
    -- with its event, or the groups of all events are read
    JOIN run_groups g ON g.id = e.run_group_id AND g.event_id = e.event_id
    CROSS JOIN LATERAL (
      SELECT id FROM inspections WHERE entry_id = e.id ORDER BY revision DESC LIMIT 1
    ) i
    WHERE ${where}
    ORDER BY ev.starts_on, ev.id, g.sort_order, g.name, e.car_number`;
  return rows.map((row) => row.id);
}

/** A `TrialInspection` as JSON, with what names the rules that judged it beside it. */
export interface TrialRow
  extends Pick<TrialInspection, 'runGroupId' | 'ruleSetId' | 'ruleSetVersion' | 'resolvedHash'> {
  json: string;
  /** its findings are all that were told, and without a concession: nothing of it is made anew */
  isWhole: boolean;
}

/**
 * Reads revisions, in the order asked, as JSON that is parsed where they are judged. Whole findings are ten times as much
 * as all the rest, and a trial needs little of them, so only that is read: a line each, without control characters in it,
 * because titles are free text.
 */
export async function readTrialInspections(db: Tx, ids: readonly string[]): Promise<TrialRow[]> {
  if (ids.length === 0) return [];
  return db.$queryRaw<TrialRow[]>`
    SELECT "runGroupId", codes IS NULL AND NOT "hadConcession" AS "isWhole", "ruleSetId", "ruleSetVersion", "resolvedHash", to_jsonb(r)::text AS json
    FROM (SELECT wanted.place, i.id AS "inspectionId", i.entry_id AS "entryId", e.car_number AS "carNumber", e.event_id AS "eventId",
           e.run_group_id AS "runGroupId", i.answers, i.vehicle, i.context, i.rule_set_id AS "ruleSetId",
           i.rule_set_version AS "ruleSetVersion", i.resolved_hash AS "resolvedHash", i.parameters, i.verdict,
           EXISTS (SELECT 1 FROM sign_offs s WHERE s.inspection_id = i.id AND s.decision <> 'refuse') AS accepted,
           i.codes, f.findings, f.had_concession AS "hadConcession"
    FROM unnest(${[...ids]}::uuid[]) WITH ORDINALITY AS wanted (id, place)
    JOIN inspections i ON i.id = wanted.id
    JOIN entries e ON e.id = i.entry_id
    CROSS JOIN LATERAL (
      SELECT COALESCE(string_agg(concat_ws(E'\\x1f', "ruleId", COALESCE("position", ''), result, counts,
               translate(title, E'\\x1e\\x1f', '')), E'\\x1e' ORDER BY place), '') AS findings,
             COALESCE(bool_or(conceded IS NOT NULL), false) AS had_concession
      FROM ROWS FROM (jsonb_to_recordset(i.findings) AS
             ("ruleId" text, "position" text, result text, counts text, title text, conceded jsonb)) WITH ORDINALITY
             AS finding ("ruleId", "position", result, counts, title, conceded, place)
    ) f) r
    ORDER BY place`;
}

/** The stored findings of some rules, by inspection. */
export async function readWholeFindings(
  db: Tx,
  ids: readonly string[],
  ruleIds: readonly string[],
): Promise<Map<string, StoredFinding[]>> {
  const rows = await db.$queryRaw<{ id: string; findings: StoredFinding[] }[]>`
    SELECT i.id, jsonb_agg(finding) AS findings
    FROM inspections i, jsonb_array_elements(i.findings) AS finding
    WHERE i.id = ANY (${[...ids]}::uuid[]) AND finding->>'ruleId' = ANY (${[...ruleIds]}::text[])
    GROUP BY i.id`;
  return new Map(rows.map((row) => [row.id, row.findings]));
}
