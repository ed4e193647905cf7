import { parseAnswers } from '../../domain/declaration.ts';
import { decideRejudge, recallingRules, type RejudgeDecision } from '../../domain/rejudge.ts';
import type { Finding, Judgement } from '../../domain/rules/finding.ts';
import type { RuleSet } from '../../domain/rules/rule-set.ts';
import type { Tx } from '../../platform/db.ts';
import { listConcessions } from '../../records/concessions.ts';
import { judgeEntry } from '../../records/judge-entry.ts';
import { findJudgingContext } from '../../records/judging-context.ts';
import { measuredAtLine } from '../../records/measured-at-line.ts';
import { getRules, type JudgingRules } from '../../records/rules.ts';
import type { RunGroupPreview } from './preview-schemas.ts';
import { type GroupEntry, listGroupEntries } from './preview-store.ts';

/** The rules that a change would lead to. */
interface Candidate extends JudgingRules {
  hash: string;
  ruleSetId: string;
  ruleSetVersion: number;
}

type Foreseen = Pick<RunGroupPreview, 'onRejudgement' | 'recalled'>;
type Decision = RejudgeDecision | { act: 'none'; why: 'same-rules' };

const COUNTED = {
  'signed-off': 'signedOff',
  'same-rules': 'sameRules',
  'not-declared': 'notDeclared',
  refused: 'refused',
  withdrawn: 'withdrawn',
} as const;

/**
 * What would become of every entry of a run group if it were judged anew under these rules, by the same decision that a
 * re-judgement takes: as declared and measured, with the concessions that cover these rules at `now`. Reads only.
 */
export async function foreseeRejudgement(
  db: Tx,
  runGroupId: string,
  candidate: Candidate,
  now: Date,
): Promise<Foreseen> {
  const counts = { judgedAnew: 0, recalled: 0, signedOff: 0, refused: 0, sameRules: 0, notDeclared: 0, withdrawn: 0 };
  const recalled: Foreseen['recalled'] = [];
  const recalls = rememberRecalls(candidate.compiled.ruleSet);
  for (const entry of await listGroupEntries(db, runGroupId)) {
    const decision = await decide(db, entry, { candidate, recalls, now });
    if (decision.act === 'judge-anew') counts.judgedAnew += 1;
    else if (decision.act === 'none') counts[COUNTED[decision.why]] += 1;
    else {
      counts.recalled += 1;
      const { entryId, carNumber } = entry;
      recalled.push({ entryId, carNumber, because: decision.findings.map(viewCause) });
    }
  }
  return { onRejudgement: counts, recalled };
}

interface Foresight {
  candidate: Candidate;
  /** whether any rule of the candidate recalls cars that these rules judged */
  recalls(before: RuleSet): boolean;
  now: Date;
}

async function decide(db: Tx, entry: GroupEntry, foresight: Foresight): Promise<Decision> {
  const { facts, judged } = entry;
  const { candidate } = foresight;
  const after = candidate.compiled.ruleSet;
  if (judged?.resolvedHash === candidate.hash) return { act: 'none', why: 'same-rules' };
  const isAccepted = facts.signOff !== undefined && facts.signOff.decision !== 'refuse' && !facts.withdrawn;
  // For any other car the decision reads neither the rules before nor the line.
  if (judged === null || !isAccepted) return decideRejudge(facts, after, after, notAtLine);
  const before = (await getRules(db, judged)).compiled.ruleSet;
  if (!foresight.recalls(before)) return { act: 'none', why: 'signed-off' };
  const judgement = await judgeAtLine(db, entry.entryId, judged, foresight);
  return decideRejudge(facts, before, after, () => judgement);
}

function notAtLine(): never {
  throw new Error('only a car that was accepted is judged at the line');
}

/** As declared and as the line measured it, with the car and the venue of today. */
async function judgeAtLine(
  db: Tx,
  entryId: string,
  judged: NonNullable<GroupEntry['judged']>,
  { candidate, now }: Foresight,
): Promise<Judgement> {
  const context = await findJudgingContext(db, entryId);
  if (context === undefined) throw new Error(`no entry ${entryId}`);
  const { ruleSetId, ruleSetVersion, hash } = candidate;
  const concessions = await listConcessions(db, { entryId, ruleSetId, ruleSetVersion });
  const measured = await measuredAtLine(db, judged.inspectionId);
  const parsed = parseAnswers(judged.answers);
  const answers = parsed.ok ? parsed.answers : new Map();
  const judgedWith = { ...context, resolvedHash: hash, concessions };
  return judgeEntry(candidate, judgedWith, { answers, measured, stage: 'line', now });
}

/** Most cars of a group were judged by the same rules: they are compared once. */
function rememberRecalls(after: RuleSet): Foresight['recalls'] {
  const known = new Map<RuleSet, boolean>();
  return (before) => {
    const answer = known.get(before) ?? recallingRules(before, after).size > 0;
    known.set(before, answer);
    return answer;
  };
}

function viewCause({ ruleId, title, position, message }: Finding): Foreseen['recalled'][number]['because'][number] {
  return { ruleId, title, ...(position === undefined ? {} : { position }), message };
}
