import { compileRuleSet } from '../../domain/rules/evaluate.ts';
import { NO_CHANGES } from '../../domain/rules/overlay.ts';
import { RuleSet } from '../../domain/rules/rule-set.ts';
import { fitLayers } from '../../domain/rules/trial-layers.ts';
import type { Tx } from '../../platform/db.ts';
import type { JudgingRules } from '../../records/rules.ts';
import type { StoredTask } from '../../records/tasks.ts';
import { listNewestInspections } from '../../records/trial-inspections.ts';
import { tryInspections } from '../../records/try-inspections.ts';
import type { TrialResult } from './schemas.ts';
import { findVersion, listRunGroups, type TrialRequest, type TrialRunGroup } from './store.ts';

const MAX_NOT_APPLIED = 500;
const MAX_COMPILED = 20;

/** A trial that no further try will bring about; the message is for the person who asked for it. */
export class TrialImpossible extends Error {}

type Report = (done: number, total: number) => Promise<void>;

/**
 * Judges the newest declaration of every entry of the events under the rules tried, as each run group would have them,
 * and compares with the judgement that is stored. Reads only.
 *
 * @throws TrialImpossible when the rules tried cannot be read
 */
export async function runTrial(
  db: Tx,
  task: StoredTask,
  report: Report,
): Promise<{ judged: number; result: TrialResult }> {
  // written by `startTrial` only
  const { eventIds, tried } = task.request as TrialRequest;
  const base = await loadTried(db, task.subjectId, tried);
  const groups = fitGroups(base, await listRunGroups(db, eventIds));
  const ids = await listNewestInspections(db, { eventIds });
  await report(0, ids.length);
  const onBatch = (done: number) => report(done, ids.length);
  const summary = await tryInspections(db, ids, { tried: base, rulesOf: groups.rulesOf, onBatch });
  return { judged: ids.length, result: { ...summary, notApplied: groups.notApplied } };
}

async function loadTried(db: Tx, ruleSetId: string, tried: TrialRequest['tried']): Promise<RuleSet> {
  const document =
    tried.kind === 'draft' ? tried.document : (await findVersion(db, ruleSetId, tried.version))?.document;
  const parsed = RuleSet.safeParse(document);
  if (parsed.success) return parsed.data;
  throw new TrialImpossible(
    'The rules were written for another version of this server. Check the draft, then try again.',
  );
}

interface FittedGroups {
  rulesOf(runGroupId: string): JudgingRules;
  notApplied: TrialResult['notApplied'];
}

/** The rules tried as each run group would have them; groups that change the same share them. */
function fitGroups(base: RuleSet, groups: readonly TrialRunGroup[]): FittedGroups {
  const notApplied: TrialResult['notApplied'] = [];
  const byLayers = new Map<string, ReturnType<typeof fitLayers>>();
  const byGroup = new Map<string, { key: string; ruleSet: RuleSet }>();
  for (const { layers, eventId, runGroupId, name } of groups) {
    const key = JSON.stringify(layers);
    const fitted = byLayers.get(key) ?? fitLayers(base, layers);
    byLayers.set(key, fitted);
    byGroup.set(runGroupId, { key, ruleSet: fitted.ruleSet });
    notApplied.push(...fitted.notApplied.map((one) => ({ eventId, runGroupId, runGroup: name, ...one })));
  }
  return { rulesOf: compileOnce(byGroup), notApplied: notApplied.slice(0, MAX_NOT_APPLIED) };
}

/** Compiles when first asked. Inspections come group by group, so few are kept. */
function compileOnce(byGroup: ReadonlyMap<string, { key: string; ruleSet: RuleSet }>) {
  const compiled = new Map<string, JudgingRules>();
  return (runGroupId: string): JudgingRules => {
    const group = byGroup.get(runGroupId);
    if (group === undefined) throw new Error(`run group ${runGroupId} came after the trial began`);
    const known = compiled.get(group.key);
    if (known !== undefined) return known;
    const made = { compiled: compileRuleSet(group.ruleSet), origins: NO_CHANGES };
    if (compiled.size >= MAX_COMPILED) compiled.clear();
    compiled.set(group.key, made);
    return made;
  };
}
