import type { Answers, AnswerValue } from '../../declaration/declaration.ts';
import { findProgram, type Program } from '../compile/program.ts';
import { type Finding, type Judgement, verdictOf } from '../model/finding.ts';
import type { Derived, JudgeInput, Run } from './run.ts';
import { type CompiledRuleSet, judgeOne, startRun } from './evaluate.ts';

/** Stands for all cells: somebody went through the answers. */
const ALL = '*';

/** Which cells were looked for in the answers, given or not, since notes began. */
class Notes {
  #open: Set<string>[] = [];

  begin(): void {
    this.#open.push(new Set());
  }

  add(cells: Iterable<string>): void {
    const now = this.#open.at(-1);
    if (now !== undefined) for (const cell of cells) now.add(cell);
  }

  note(cell: string): void {
    this.#open.at(-1)?.add(cell);
  }

  /** What was noted since the last `begin`, which is noted for what began before it too. */
  end(): readonly string[] {
    const cells = [...(this.#open.pop() ?? [])];
    this.add(cells);
    return cells;
  }
}

/** Answers that note what is looked for, by whatever way. */
class NotedAnswers extends Map<string, AnswerValue> {
  // a field would not be there yet while `Map` fills itself
  readonly #notes: Notes;

  constructor(answers: Answers, notes: Notes) {
    super();
    this.#notes = notes;
    for (const [cell, value] of answers) this.set(cell, value);
  }

  override get(cell: string): AnswerValue | undefined {
    this.#notes.note(cell);
    return super.get(cell);
  }

  override has(cell: string): boolean {
    this.#notes.note(cell);
    return super.has(cell);
  }

  override keys() {
    this.#notes.note(ALL);
    return super.keys();
  }

  override values() {
    this.#notes.note(ALL);
    return super.values();
  }

  override entries() {
    this.#notes.note(ALL);
    return super.entries();
  }

  override [Symbol.iterator]() {
    return this.entries();
  }

  override forEach(...given: Parameters<Map<string, AnswerValue>['forEach']>): void {
    this.#notes.note(ALL);
    super.forEach(...given);
  }
}

/** Derived facts: whoever reads one that is there reads what it was derived from. */
class NotedFacts extends Map<string, Derived> {
  readonly #notes: Notes;
  readonly #cells = new Map<string, readonly string[]>();

  constructor(notes: Notes) {
    super();
    this.#notes = notes;
  }

  override get(name: string): Derived | undefined {
    const known = super.get(name);
    if (known === undefined) this.#notes.begin();
    else this.#notes.add(this.#cells.get(name) ?? []);
    return known;
  }

  override set(name: string, derived: Derived): this {
    // `derive` looks for each fact before it sets it, and sets it whatever comes of it
    if (!this.has(name)) this.#cells.set(name, this.#notes.end());
    return super.set(name, derived);
  }
}

/** What came of a step of a program, and the cells that it looked for. */
export interface Step<Result> {
  result: Result;
  reads: readonly string[];
}

/** A program gone through for some answers. */
export interface Gone<Result> {
  program: Program;
  answers: Answers;
  steps: readonly Step<Result>[];
}

type Cells = readonly string[];

/** Whether two lists have the same in the same order. */
export const isSameCells = (one: Cells | undefined, other: Cells | undefined): boolean =>
  one === other || (one?.length === other?.length && one?.every((cell, place) => cell === other?.[place]) === true);

/** Most steps of a program look for the same cells whatever the car: such a list is kept once for all. */
export class UsualCells {
  readonly #of = new WeakMap<Program, Cells[]>();

  share(program: Program, index: number, cells: Cells): Cells {
    const all = this.#of.get(program) ?? [];
    this.#of.set(program, all);
    const known = (all[index] ??= cells);
    return isSameCells(known, cells) ? known : cells;
  }
}

const usualReads = new UsualCells();

/**
 * Judges as `evaluate`, from what was judged before. For drafts, which decide nothing and are saved again and again: what is
 * submitted is judged whole.
 *
 * @param input the same as `before` but for the answers; measurements are not read
 */
export function judgeAgain(
  compiled: CompiledRuleSet,
  input: JudgeInput,
  before: Gone<Finding | undefined> | undefined,
): { judgement: Judgement; gone: Gone<Finding | undefined> } {
  const program = findProgram(compiled, input);
  const gone = goThrough(program, input, before, (index, run) => judgeOne(program, index, run));
  const findings = gone.steps.flatMap(({ result }) => (result === undefined ? [] : [result]));
  return { judgement: { verdict: verdictOf(findings), findings }, gone };
}

/** Options that were chosen are a list, made anew at each reading. */
const isSameAnswer = (one: AnswerValue | undefined, other: AnswerValue | undefined): boolean =>
  one === other || (Array.isArray(one) && Array.isArray(other) && isSameCells(one, other));

/** The cells whose answer is not the same. */
export function changedCells(before: Answers, after: Answers): Set<string> {
  const changed = new Set<string>();
  for (const [cell, value] of after) if (!isSameAnswer(before.get(cell), value)) changed.add(cell);
  for (const cell of before.keys()) if (!after.has(cell)) changed.add(cell);
  return changed;
}

/**
 * Goes through the steps of a program, of which those that looked for nothing that changed are taken from `before`.
 *
 * @param input only what is declared is noted, and read: measurements are not
 * @param before of an input that is the same but for the answers; absent: every step is taken
 * @param step one step, by its index; it reads answers through the run only
 */
export function goThrough<Result>(
  program: Program,
  input: JudgeInput,
  before: Gone<Result> | undefined,
  step: (index: number, run: Run) => Result,
): Gone<Result> {
  const { answers } = input;
  const notes = new Notes();
  const noted = { ...input, answers: new NotedAnswers(answers, notes), measured: undefined };
  const run = startRun(noted, { ...program, cells: [] });
  run.sheet = undefined;
  run.derived = new NotedFacts(notes);
  const known = before?.program === program ? before : undefined;
  const changed = known === undefined ? undefined : changedCells(known.answers, answers);
  const isSame = (one: Step<Result> | undefined): one is Step<Result> =>
    one !== undefined && changed !== undefined && !one.reads.some((cell) => changed.has(cell) || cell === ALL);
  const steps = program.judges.map((_judge, index): Step<Result> => {
    const last = known?.steps[index];
    if (isSame(last)) return last;
    notes.begin();
    const result = step(index, run);
    return { result, reads: usualReads.share(program, index, notes.end()) };
  });
  return { program, answers, steps };
}
