import { changedFacts, isImplausible, valueOf } from '../../car/car-facts.ts';
import { type NumberFact, numberFactOf } from '../../car/fact-table.ts';
import { findItem, itemApplies, positionsFor } from '../../catalogue/catalogue.ts';
import { formatQuantity } from '../../quantity.ts';
import type { Vehicle } from '../../vehicle.ts';
import { type CompiledRuleSet, compileRuleSet } from '../compile/compile-rule-set.ts';
import { findProgram, type Program } from '../compile/program.ts';
import { type FactInDoubt, type Finding, type Judgement, verdictOf } from '../model/finding.ts';
import { fillSheet, type JudgeInput, type Run } from './run.ts';
import { unanswerableFinding } from './build-finding.ts';

export { type CompiledRuleSet, compileRuleSet };

/**
 * Of how this code judges. It is raised by 1 with each change by which the same rules could come to another result about the
 * same car, answers and event; what is stored names it, so that a judgement of an older version is not taken for one of now.
 */
export const EVALUATOR_VERSION = 3;

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
function factsRead(compiled: CompiledRuleSet, input: JudgeInput, watched: readonly string[]): ReadonlySet<string> {
  const program = findProgram(compiled, input);
  const run = startRun({ ...input, unconfirmed: watched }, program);
  const read = new Set<string>();
  for (let index = 0; index < program.judges.length; index += 1) {
    judgeOne(program, index, run);
    for (const path of run.doubts ?? []) read.add(path);
  }
  return read;
}

/** A view of a record that notes each fact of `watched` when it is read. Only cars with such facts pay for it. */
function watching<T extends object>(
  record: T,
  below: string,
  watched: ReadonlySet<string>,
  note: (path: string) => void,
): T {
  return new Proxy(record, {
    get(target, name) {
      const value: unknown = Reflect.get(target, name);
      if (typeof name === 'symbol') return value;
      const path = below + name;
      if (typeof value === 'object' && value !== null) return watching(value, `${path}.`, watched, note);
      if (watched.has(path)) note(path);
      return value;
    },
  });
}

/** From now on the run notes which of these facts it reads. */
function watchFacts(run: Run, unconfirmed: ReadonlySet<string>): void {
  run.doubts = new Set();
  // a copy: of what is frozen, no view may give anything else
  run.vehicle = watching(structuredClone(run.vehicle), '', unconfirmed, (path) => run.doubts?.add(path));
}

/** The facts whose value alone lets a rule be met, and that the line finds out one by one. */
const decidesAlone = (path: string, vehicle: Vehicle): boolean =>
  numberFactOf(path)?.readAt !== 'compare' || isImplausible(path, valueOf(vehicle, path) ?? '');

/**
 * What becomes of a finding that rests on numbers of the car which nobody confirmed. Not met, it does not bar: the number
 * may be a slip, and the line finds it out. Met, the line finds out those that are stamped or that the rule hangs on alone;
 * the others are compared with the car as a whole (`car.as-described`). Choices do not lift a bar: whoever entered them can
 * change them.
 */
function inDoubt(finding: Finding, run: Run, read: ReadonlySet<string>): Finding {
  if (finding.effect === 'advise' || finding.watched || finding.counts === 'advise') return finding;
  const numbers = [...read].filter((path) => numberFactOf(path) !== undefined);
  const isMet = finding.result === 'met';
  const facts = isMet ? numbers.filter((path) => decidesAlone(path, run.vehicle)) : numbers;
  if (facts.length === 0) return finding;
  const doubts: FactInDoubt[] = facts.map((path) => ({ path, why: 'unconfirmed' }));
  const says = `It rests on ${facts.map((path) => sayFact(path, run.vehicle)).join(' and ')}, which nobody of the staff has seen.`;
  return {
    ...finding,
    // inside its limit, and yet not enough
    result: isMet ? 'unanswerable' : finding.result,
    counts: 'inspect',
    clearedBy: finding.clearedBy ?? 'look',
    message: finding.message === '' ? says : `${finding.message} ${says}`,
    fix: isMet
      ? 'Nothing to do before the line: the inspector reads it at the car.'
      : `${finding.fix} First look whether that number is right.`,
    facts: [...(finding.facts ?? []), ...doubts],
  };
}

/** A number of the car for people: `the least thickness stamped on the rotor FL (20.4 mm)`. */
function sayFact(path: string, vehicle: Vehicle): string {
  const fact = numberFactOf(path);
  const value = valueOf(vehicle, path);
  const named = sayName(path, fact);
  return fact === undefined || typeof value !== 'number'
    ? named
    : `${named} (${formatQuantity(value, fact.type.unit)})`;
}

function sayName(path: string, fact: NumberFact | undefined): string {
  const [, position] = path.split('.');
  const label = fact?.label ?? path;
  return position === undefined ? label : `${label} ${position}`;
}

/**
 * Whether a judgement would be another one, or rest on something else, had the car been what it is now: a rule read a fact
 * that changed, or is asked at other places. What no rule of the group looks at changes nothing.
 *
 * @param input as it was judged
 * @param now the car as its record is now
 */
export function usesChange(compiled: CompiledRuleSet, input: JudgeInput, now: Vehicle): boolean {
  const changed = changedFacts(input.vehicle, now);
  if (changed.length === 0) return false;
  const asksElsewhere = compiled.ruleSet.rules.some(({ items }) =>
    items.some((key) => placesOf(key, input.vehicle) !== placesOf(key, now)),
  );
  if (asksElsewhere) return true;
  return [input.vehicle, now].some((vehicle) => factsRead(compiled, { ...input, vehicle }, changed).size > 0);
}

function placesOf(key: string, vehicle: Vehicle): string {
  const item = findItem(key);
  if (item === undefined || !itemApplies(item, vehicle)) return '-';
  return positionsFor(item, vehicle)?.join() ?? '+';
}
