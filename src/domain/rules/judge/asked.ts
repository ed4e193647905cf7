import { CATALOGUE, findItem, itemApplies, positionsFor } from '../../catalogue/catalogue.ts';
import { type Item, POSITION_KEYS } from '../../catalogue/item.ts';
import { basisAt, EACH_PLACE, isLook, lowestAround, lowestOf } from '../../declaration/basis.ts';
import { type Answers, type AnswerValue, cellKey, isAsked, parseCellKey } from '../../declaration/declaration.ts';
import { noAnswerAt, placeOfName } from '../../declaration/no-answer.ts';
import { findProgram, type Program } from '../compile/program.ts';
import type { CompiledRuleSet } from '../compile/compile-rule-set.ts';
import type { JudgeInput, Run } from './run.ts';
import { judgeOne } from './evaluate.ts';
import { changedCells, type Gone, goThrough, isSameCells, UsualCells } from './noted.ts';

/** One answer that rules need: where it stands, and the answers because of which it is asked. */
export interface AskedCell {
  key: string;
  /** as in `Answers` */
  cell: string;
  /** cells of other items whose answers brought it up; empty: it is asked of an empty declaration too */
  because: readonly string[];
}

type Touched = readonly string[] | undefined;

const usual = new UsualCells();

/** The cells that one rule asks for at its place; undefined where it only advises, is on watch or does not apply. */
function readBy(program: Program, index: number, run: Run): Touched {
  const head = program.heads[index];
  if (head === undefined || head.effect === 'advise' || head.watched === true) return undefined;
  const touched = new Set<string>();
  run.touched = touched;
  const finding = judgeOne(program, index, run);
  run.touched = undefined;
  // a condition that is false reads answers too, and asks for none of them
  return finding === undefined ? undefined : usual.share(program, index, [...touched]);
}

/** What the rules in force need: the cells that each reads together. */
function readTogether(compiled: CompiledRuleSet, input: JudgeInput, before?: Gone<Touched>) {
  const program = findProgram(compiled, input);
  return goThrough<Touched>(program, input, before, (index, run) => readBy(program, index, run));
}

const together = ({ steps }: Gone<Touched>): (readonly string[])[] =>
  steps.flatMap(({ result }) => (result === undefined || result.length === 0 ? [] : [result]));

/** All cells that are read by any. */
function cellsOf(together: readonly (readonly string[])[]): Set<string> {
  const cells = new Set<string>();
  for (const touched of together) for (const cell of touched) cells.add(cell);
  return cells;
}

/** Whether a question is answered, or was said to have no answer; of parts that may be left out any one will do. */
function isGiven(answers: Answers, cell: string): boolean {
  if (answers.has(cell) || noAnswerAt(answers, cell) !== undefined) return true;
  const { key, position, field } = parseCellKey(cell);
  if (position === EACH_PLACE) return isGivenOnce(answers, key, field);
  const type = findItem(key)?.answer;
  if (field !== undefined || type?.kind !== 'fields') return false;
  return Object.keys(type.fields).some((part) => answers.has(cellKey(key, position, part)));
}

/** Whether a question of all places was answered for each of them, or was said to have no answer at each. */
function isGivenOnce(answers: Answers, key: string, field: string | undefined): boolean {
  const scheme = findItem(key)?.positions;
  const positions = scheme === undefined ? [] : POSITION_KEYS[scheme];
  return positions.some((position) => {
    const isEach = basisAt(answers, cellKey(key, position))?.basis === 'each-place';
    return isEach && answers.has(cellKey(key, position, field));
  });
}

/** Of what is asked, the cells that are still to be answered. */
export const stillOpen = (asked: readonly AskedCell[], answers: Answers): AskedCell[] =>
  asked.filter(({ cell }) => !isGiven(answers, cell));

/**
 * The questions that a touched place comes to. The required parts of a composite answer are given together; a part that
 * may be left out is a question of its own once they are there and a rule looks for it; of parts that may all be left out
 * any one will do, and the place is one question.
 */
function questionsAt(item: Item, position: string | undefined, touched: ReadonlySet<string>, answers: Answers) {
  const place = cellKey(item.key, position);
  if (item.answer.kind !== 'fields') return touched.has(place) ? [place] : [];
  const parts = Object.entries(item.answer.fields).map(([field, { required }]) => ({
    cell: cellKey(item.key, position, field),
    required,
  }));
  if (!parts.some(({ cell }) => touched.has(cell))) return [];
  const required = parts.filter((part) => part.required).map(({ cell }) => cell);
  if (required.length === 0) return [place];
  if (noAnswerAt(answers, place) !== undefined || !required.every((cell) => answers.has(cell))) return required;
  return [...required, ...parts.filter((part) => !part.required && touched.has(part.cell)).map(({ cell }) => cell)];
}

function questionsOf(item: Item, touched: ReadonlySet<string>, { vehicle, answers }: JudgeInput): string[] {
  if (item.answeredBy === 'inspector' || !itemApplies(item, vehicle)) return [];
  const positions = positionsFor(item, vehicle);
  const around = new Set((positions ?? []).map((position) => lowestAround(item, position)));
  const lowest = (lowestOf(item)?.positions ?? []).filter((position) => around.has(position));
  const places = [...lowest, ...(positions ?? [undefined])].filter((position) => isAsked(item, position, answers));
  if (isLook(item) && isOneLook(item, places, answers)) return questionsOnce(item, places, touched, answers);
  return places.flatMap((position) => questionsAt(item, position, touched, answers));
}

/** Whether all places of a look are one question: they are answered at once, or none is answered by itself yet. */
function isOneLook(item: Item, places: readonly (string | undefined)[], answers: Answers): boolean {
  const names = places.map((position) => cellKey(item.key, position));
  if (names.some((place) => basisAt(answers, place)?.basis === 'each-place')) return true;
  return places.length > 1 && !names.some((place) => isGiven(answers, place));
}

/** The questions of a look at all places: those of one place, named as of each. */
function questionsOnce(
  item: Item,
  places: readonly (string | undefined)[],
  touched: ReadonlySet<string>,
  answers: Answers,
): string[] {
  const asked = places.flatMap((position) => questionsAt(item, position, touched, answers));
  return [...new Set(asked.map((cell) => cellKey(item.key, EACH_PLACE, parseCellKey(cell).field)))];
}

/** Where an item asks the same as another in less detail, and both are read, the one with less detail is enough. */
function isCoveredBy(item: Item, byItem: ReadonlyMap<string, readonly string[]>): boolean {
  return item.detailOf !== undefined && (byItem.get(item.detailOf)?.length ?? 0) > 0;
}

function questions(touched: ReadonlySet<string>, input: JudgeInput): Map<string, readonly string[]> {
  const byItem = new Map(CATALOGUE.map((item) => [item.key, questionsOf(item, touched, input)] as const));
  const kept = [...byItem].filter(([key, cells]) => {
    const item = findItem(key);
    return cells.length > 0 && item !== undefined && !isCoveredBy(item, byItem);
  });
  return new Map(kept);
}

/** Rounds after which what is asked has settled; one more is brought up by each answer that brings up another. */
const MAX_ROUNDS = 8;

const NO_ANSWERS: Answers = new Map();

/**
 * The answers to what is asked, and those that stand for one of them in more detail. What somebody gave beyond that asks
 * for nothing: it is judged, and a rule that reads it only where it is there does not make it a question.
 */
function answersTo(asked: ReadonlySet<string>, answers: Answers): Answers {
  return new Map(
    [...answers].filter(([name]) => {
      const { key } = parseCellKey(name);
      return asked.has(key) || findItem(key)?.detailOf !== undefined;
    }),
  );
}

/**
 * What is asked where nothing is answered: the same as long as rules, car, event and what is known of both are. A form that is
 * saved again and again asks it each time.
 */
const firstOf = new WeakMap<Program, Map<string, Map<string, readonly string[]>>>();
/** Cars whose declarations are being filled in at one time, by one kind of car. */
const MAX_FIRST = 100;

function askedAtFirst(compiled: CompiledRuleSet, input: JudgeInput): ReadonlyMap<string, readonly string[]> {
  const { answers: _, measured: __, ...given } = input;
  const program = findProgram(compiled, input);
  const kept = firstOf.get(program) ?? new Map();
  firstOf.set(program, kept);
  const key = JSON.stringify(given);
  const known = kept.get(key);
  if (known !== undefined) return known;
  const empty = { ...given, answers: NO_ANSWERS };
  const asked = questions(cellsOf(together(readTogether(compiled, empty))), empty);
  if (kept.size >= MAX_FIRST) kept.clear();
  kept.set(key, asked);
  return asked;
}

/** What is asked, with all that it was worked out from. */
export interface Asked {
  asked: readonly AskedCell[];
  answers: Answers;
  /** how the rules were gone through until what is asked had settled */
  rounds: readonly Gone<Touched>[];
}

/**
 * What a declaration needs: the answers that a rule in force for this car and group reads and that can bar or ask for a
 * look. What only advice reads, or nothing, is optional. Which rules are in force depends on the car, the group, the
 * venue and on what is answered so far, so that one answer may bring up another.
 *
 * Pure. In the order of the catalogue.
 *
 * @param input at the stage `declaration`, with the answers so far
 */
export function listAsked(compiled: CompiledRuleSet, input: JudgeInput): readonly AskedCell[] {
  return workOutAsked(compiled, input).asked;
}

/**
 * The same, from what was asked before where nothing but values changed by which nothing else is asked. `asked` is the same list
 * then, and the same cells are answered.
 *
 * @param before of an input that is the same but for the answers
 */
export function askAgain(compiled: CompiledRuleSet, input: JudgeInput, before: Asked | undefined): Asked {
  const rounds = before === undefined ? undefined : sameRounds(compiled, input, before);
  if (before === undefined || rounds === undefined) return workOutAsked(compiled, input);
  return { asked: before.asked, answers: input.answers, rounds };
}

function workOutAsked(compiled: CompiledRuleSet, input: JudgeInput): Asked {
  const atFirst = askedAtFirst(compiled, input);
  const rounds: Gone<Touched>[] = [];
  let now = atFirst;
  const ever = new Set(atFirst.keys());
  for (let round = 0, before = -1; round < MAX_ROUNDS; round += 1) {
    const so = { ...input, answers: answersTo(ever, input.answers) };
    // what else came to be asked is not answered yet: nothing more comes of it
    if (so.answers.size === before) break;
    before = so.answers.size;
    const gone = readTogether(compiled, so, rounds.at(-1));
    rounds.push(gone);
    now = questions(cellsOf(together(gone)), so);
    for (const key of now.keys()) ever.add(key);
  }
  const last = rounds.at(-1);
  const read = last === undefined ? [] : together(last);
  const asked = [...now].flatMap(([key, cells]) =>
    cells.map((cell) => {
      const isNew = atFirst.get(key)?.includes(cell) !== true;
      return { key, cell, because: isNew ? broughtUpBy(key, cell, read, input.answers) : [] };
    }),
  );
  return { asked, answers: input.answers, rounds };
}

/** Items whose answers decide by themselves, beside the rules, whether another is asked. */
const ASKED_AFTER = new Set(CATALOGUE.flatMap(({ askedAfter }) => (askedAfter === undefined ? [] : [askedAfter.item])));

/**
 * Whether questions could be others: a cell has an answer for the first time or no more, rests on something else, or is one that
 * another question waits for.
 */
function mayAskOtherwise(cell: string, before: Answers, after: Answers): boolean {
  const isPlain = before.has(cell) && after.has(cell) && placeOfName(cell).place === cell;
  return !isPlain || ASKED_AFTER.has(parseCellKey(cell).key);
}

/** The rounds gone through again, where each rule asks for the same cells in each; undefined where one does not. */
function sameRounds(compiled: CompiledRuleSet, input: JudgeInput, before: Asked): Gone<Touched>[] | undefined {
  const changed = [...changedCells(before.answers, input.answers)];
  if (changed.some((cell) => mayAskOtherwise(cell, before.answers, input.answers))) return undefined;
  const rounds: Gone<Touched>[] = [];
  for (const last of before.rounds) {
    const answers = new Map([...last.answers.keys()].map((cell) => [cell, input.answers.get(cell) as AnswerValue]));
    const gone = readTogether(compiled, { ...input, answers }, last);
    if (!gone.steps.every(({ result }, index) => isSameCells(result, last.steps[index]?.result))) return undefined;
    rounds.push(gone);
  }
  return rounds;
}

/** The answered cells that are read together with a cell: those of other items first, else of its own item. */
function broughtUpBy(
  key: string,
  cell: string,
  together: readonly (readonly string[])[],
  answers: Answers,
): readonly string[] {
  const beside = new Set(together.filter((touched) => touched.includes(cell)).flatMap((touched) => [...touched]));
  beside.delete(cell);
  const read = [...beside].filter((other) => isGiven(answers, other));
  const others = read.filter((other) => parseCellKey(other).key !== key);
  return others.length > 0 ? others : read;
}
