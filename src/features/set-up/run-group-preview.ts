import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { decideRejudge } from '../../domain/clearance/rejudge.ts';
import type { RuleSet } from '../../domain/rules/model/rule-set.ts';
import { inThread, URGENCY } from '../../http/body/in-thread.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import type { Tx } from '../../platform/database/db.ts';
import { listConcessions } from '../../records/what-stands.ts';
import { measuredAtLine } from '../../records/judging/judge-entry.ts';
import { findJudgingContext } from '../../records/judging/judging-context.ts';
import type { SentRules } from '../../records/judging/rules.task.ts';
import { findRulesText } from '../../records/judging/rules.ts';
import { listNewestInspections, type RunTask, tryInspections } from '../../records/judging/trial-inspections.ts';
import { applyChanges } from './run-group-change.ts';
import { type AcceptedCar, foreseeTask, type RecallCause, recallsTask } from './foresee.task.ts';
import { type PreparedRules, prepareRules } from './run-group-rules.ts';
import type { RunGroupChanges, RunGroupPreview } from './run-group-schemas.ts';
import {
  findAnswers,
  findEventFrame,
  findRunGroup,
  type GroupEntry,
  listGroupEntries,
  type StoredRunGroup,
} from './run-group-store.ts';

/** The rules that a change would lead to. */
interface Candidate {
  rules: SentRules;
  hash: string;
  ruleSetId: string;
  ruleSetVersion: number;
}

type Foreseen = Pick<RunGroupPreview, 'onRejudgement' | 'recalled'>;
type Known = 'judge-anew' | 'accepted' | keyof typeof COUNTED;

const COUNTED = {
  'signed-off': 'signedOff',
  'same-rules': 'sameRules',
  'not-declared': 'notDeclared',
  refused: 'refused',
  withdrawn: 'withdrawn',
} as const;

/** Accepted cars judged in one task. */
const BATCH = 10;

interface Foresight {
  candidate: Candidate;
  /** concessions count that are in force then */
  now: Date;
  runTask: RunTask;
}

/**
 * What would become of every entry of a run group if it were judged anew under these rules, by the same decision that a
 * re-judgement takes: as declared and measured, with the concessions that cover these rules at `now`. Reads only; what
 * takes long is done in a thread.
 */
export async function foreseeRejudgement(db: Tx, runGroupId: string, foresight: Foresight): Promise<Foreseen> {
  const counts = { judgedAnew: 0, recalled: 0, signedOff: 0, refused: 0, sameRules: 0, notDeclared: 0, withdrawn: 0 };
  const entries = await listGroupEntries(db, runGroupId);
  const causes = await findCauses(db, entries, foresight);
  const recalled: Foreseen['recalled'] = [];
  for (const entry of entries) {
    const known = knownOf(entry, foresight.candidate.hash);
    const because = causes.get(entry.entryId) ?? [];
    if (known === 'judge-anew') counts.judgedAnew += 1;
    else if (known !== 'accepted') counts[COUNTED[known]] += 1;
    else if (because.length === 0) counts.signedOff += 1;
    else {
      counts.recalled += 1;
      recalled.push({ entryId: entry.entryId, carNumber: entry.carNumber, because: [...because] });
    }
  }
  return { onRejudgement: counts, recalled };
}

/** What is decided without looking at any rule. */
function knownOf({ facts, judged }: GroupEntry, hash: string): Known {
  if (judged?.resolvedHash === hash) return 'same-rules';
  const isAccepted = facts.signOff !== undefined && facts.signOff.decision !== 'refuse' && !facts.withdrawn;
  if (judged !== null && isAccepted) return 'accepted';
  // For any other car the decision reads neither the rules nor the line.
  const decision = decideRejudge(facts, UNREAD, UNREAD, notAtLine);
  return decision.act === 'none' ? decision.why : 'judge-anew';
}

const UNREAD = { rules: [] } as unknown as RuleSet;

function notAtLine(): never {
  throw new Error('only a car that was accepted is judged at the line');
}

/** What sends accepted cars back, by entry; most of a group were judged by the same rules, which are compared once. */
async function findCauses(
  db: Tx,
  entries: readonly GroupEntry[],
  foresight: Foresight,
): Promise<Map<string, readonly RecallCause[]>> {
  const causes = new Map<string, readonly RecallCause[]>();
  for (const accepted of acceptedByRules(entries, foresight.candidate.hash)) {
    const first = accepted[0];
    if (first === undefined) continue;
    const rules = { before: await findRulesText(db, first.judged), after: foresight.candidate.rules };
    if (!(await foresight.runTask(recallsTask, rules))) continue;
    for (let from = 0; from < accepted.length; from += BATCH) {
      const batch = accepted.slice(from, from + BATCH);
      const found = await judgeBatch(db, batch, rules, foresight);
      for (const [at, { entryId }] of batch.entries()) causes.set(entryId, found[at] ?? []);
    }
  }
  return causes;
}

/** Accepted cars, those together that the same rules judged. */
function acceptedByRules(entries: readonly GroupEntry[], hash: string): Iterable<Judged[]> {
  const byRules = new Map<string, Judged[]>();
  for (const { judged, ...entry } of entries) {
    if (judged === null || knownOf({ judged, ...entry }, hash) !== 'accepted') continue;
    const key = judged.resolvedHash ?? `${judged.ruleSetId}@${judged.ruleSetVersion}`;
    const same = byRules.get(key) ?? [];
    same.push({ ...entry, judged });
    byRules.set(key, same);
  }
  return byRules.values();
}

async function judgeBatch(
  db: Tx,
  batch: readonly Judged[],
  rules: { before: SentRules; after: SentRules },
  { candidate, now, runTask }: Foresight,
): Promise<readonly (readonly RecallCause[])[]> {
  const cars: AcceptedCar[] = [];
  for (const entry of batch) cars.push(await readCar(db, entry, candidate));
  return runTask(foreseeTask, { ...rules, cars, now });
}

type Judged = GroupEntry & { judged: NonNullable<GroupEntry['judged']> };

/** As declared and as the line measured it, with the car and the venue of today. */
async function readCar(db: Tx, { entryId, facts, judged }: Judged, candidate: Candidate): Promise<AcceptedCar> {
  const context = await findJudgingContext(db, entryId);
  if (context === undefined) throw new Error(`no entry ${entryId}`);
  const { ruleSetId, ruleSetVersion, hash } = candidate;
  const concessions = await listConcessions(db, { entryId, ruleSetId, ruleSetVersion });
  return {
    facts,
    answers: await findAnswers(db, judged.inspectionId),
    measured: await measuredAtLine(db, judged.inspectionId),
    context: { ...context, resolvedHash: hash, concessions },
  };
}

/**
 * Shows who would change if the run group were changed so: the newest declaration of every entry of the group under the
 * rules that the change leads to, compared with the judgement it got, and the accepted cars that would drop to the
 * line. A change that does not touch the rules shows the rules of today. Nothing is written.
 *
 * @throws ProblemError `not-found`, `not-acceptable`, `too-heavy`, `too-much-at-once`, `threads-busy`
 */
export async function previewRunGroup(
  deps: Deps,
  actor: Pick<Actor, 'tokenId'>,
  ids: { eventId: string; runGroupId: string },
  changes: RunGroupChanges,
): Promise<RunGroupPreview> {
  const db = deps.db.prisma;
  const event = await findEventFrame(db, ids.eventId);
  const current = await findRunGroup(db, ids.eventId, ids.runGroupId);
  if (event === undefined || current === undefined) throw notFound('run group');
  const { wanted, rules: changed } = await applyChanges(deps, actor, { event, current }, changes);
  const { hash, rules } = changed ?? (await prepareCurrent(deps, actor, current));
  const { runGroupId, resolvedHash } = current;
  const asked = { caller: actor.tokenId, urgency: URGENCY.preview };
  const runTask: RunTask = (task, input) => inThread(deps.threads, task, input, asked);
  const inspections = await listNewestInspections(db, { runGroupId });
  const summary = await tryInspections(db, inspections, { tried: rules, rulesOf: () => rules, runTask });
  const { ruleSetId, ruleSetVersion } = wanted;
  const candidate = { rules, hash, ruleSetId, ruleSetVersion };
  const foreseen = await foreseeRejudgement(db, runGroupId, { candidate, now: deps.clock.now(), runTask });
  return { ...summary, preview: hash, sameRules: hash === resolvedHash, ...foreseen };
}

/** The rules of today: a change that does not touch them leads there. */
async function prepareCurrent(
  deps: Deps,
  actor: Pick<Actor, 'tokenId'>,
  current: StoredRunGroup,
): Promise<PreparedRules> {
  const rules = await prepareRules(deps, actor, current, current);
  if (rules.ok) return rules;
  throw new ProblemError('not-acceptable', rules.errors.map(({ detail }) => detail).join(' '), {
    errors: rules.errors,
  });
}
