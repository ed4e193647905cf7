import { unanswerableFinding } from './build-finding.ts';
import { type CompiledRuleSet, compileRuleSet } from '../compile/compile-rule-set.ts';
import { type Finding, type Judgement, verdictOf } from '../model/finding.ts';
import type { JudgeInput } from '../model/judge-input.ts';
import { findProgram, type Program } from '../compile/program.ts';
import { fillSheet, type Run } from './run.ts';
import { inDoubt, watchFacts } from './unconfirmed.ts';

export { type CompiledRuleSet, compileRuleSet };

/**
 * Of how this code judges. It is raised by 1 with each change by which the same rules could come to another result about the
 * same car, answers and event; what is stored names it, so that a judgement of an older version is not taken for one of now.
 */
export const EVALUATOR_VERSION = 1;

const NO_EARLIER: Run['earlier'] = [];

/** A judgement about to begin. */
export function startRun(input: JudgeInput, { cells, lowestIsEnough }: Program): Run {
  const { answers, measured, concessions, unconfirmed = [] } = input;
  const run: Run = {
    answers,
    measured,
    sheet: fillSheet(cells, answers),
    measuredSheet: measured && fillSheet(cells, measured),
    vehicle: input.vehicle,
    venue: input.venue,
    earlier: input.earlier ?? NO_EARLIER,
    derived: new Map(),
    photos: input.photos,
    doubts: undefined,
    stage: input.stage,
    concessions: concessions.length === 0 ? undefined : new Map(concessions.map((one) => [one.ruleId, one])),
    source: undefined,
    missing: undefined,
    touched: undefined,
    lowestIsEnough,
  };
  if (unconfirmed.length > 0) watchFacts(run, new Set(unconfirmed));
  return run;
}

/** What one rule of a program says at its place; `undefined`: it does not apply. */
export function judgeOne({ judges, heads }: Program, index: number, run: Run): Finding | undefined {
  run.source = undefined;
  run.doubts?.clear();
  try {
    const finding = judges[index]?.(run);
    return run.doubts === undefined || finding === undefined ? finding : inDoubt(finding, run, run.doubts);
  } catch {
    const head = heads[index];
    if (head === undefined) return undefined;
    // an error is never an answer: the rule has none, and bars if it can
    return unanswerableFinding(head, run, [{ says: 'This rule could not be judged', inspectorOnly: false }]);
  }
}

/**
 * Judges a declaration, and an inspector's measurements if there are any, under a rule set.
 *
 * Every rule that applies to the car is run and reported, once per position where it runs per position, in rule-set
 * order; the verdict does not depend on that order. A rule whose items the car does not have, or whose `when` is
 * false, gives no finding. What the inspector measured wins over what was declared; what only the inspector answers
 * is never taken from the declaration. What is not known is `unanswerable`, never met.
 *
 * @param input answers in canonical units, plain dates at the venue; see `JudgeInput`
 * @returns `barred` if a finding counts as a bar, else `to-inspect` if one asks for a look, else `clean`
 * @throws never — a fault in a rule is that rule's result `unanswerable`
 */
export function evaluate(compiled: CompiledRuleSet, input: JudgeInput): Judgement {
  const program = findProgram(compiled, input);
  const run = startRun(input, program);
  const findings: Finding[] = [];
  for (let index = 0; index < program.judges.length; index += 1) {
    const finding = judgeOne(program, index, run);
    if (finding !== undefined) findings.push(finding);
  }
  return { verdict: verdictOf(findings), findings };
}

/** Of these facts of the car those that its rules read when they judge it, whatever comes of it. */
export function factsRead(
  compiled: CompiledRuleSet,
  input: JudgeInput,
  watched: readonly string[],
): ReadonlySet<string> {
  const program = findProgram(compiled, input);
  const run = startRun({ ...input, unconfirmed: watched }, program);
  const read = new Set<string>();
  for (let index = 0; index < program.judges.length; index += 1) {
    judgeOne(program, index, run);
    for (const path of run.doubts ?? []) read.add(path);
  }
  return read;
}
