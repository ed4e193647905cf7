import { findItem, isOnRecord } from '../../catalogue/catalogue.ts';
import type { Item } from '../../catalogue/item.ts';
import { parseCellKey } from '../../declaration/declaration.ts';
import { NO_ANSWER_REASONS, type NoAnswer, noAnswerAt } from '../../declaration/no-answer.ts';
import { type Awaits, isReadOff } from '../model/finding.ts';
import type { ClearedBy } from '../model/rule-set.ts';
import type { FindingHead } from './build-finding.ts';
import type { Missing, Run } from './run.ts';

/** What was said in the place of what is missing; only of answers that the entrant can give. */
function saidOf(run: Run, { cell, inspectorOnly }: Missing): NoAnswer | undefined {
  return cell === undefined || inspectorOnly ? undefined : noAnswerAt(run.answers, cell);
}

/** Whether none is said to be fitted of what the record of the car has. */
function isOnRecordAllTheSame(run: Run, missing: Missing): boolean {
  const said = saidOf(run, missing);
  if (said?.kind !== 'does-not-apply' || said.reason !== 'none-fitted') return false;
  const { key, position } = parseCellKey(missing.cell ?? '');
  const item = findItem(key);
  return item !== undefined && isOnRecord(item, position, run.vehicle);
}

/** Whether what is missing was said not to apply to the car, and its record does not say that the car has it. */
const isNotThere = (run: Run, missing: Missing): boolean =>
  saidOf(run, missing)?.kind === 'does-not-apply' && !isOnRecordAllTheSame(run, missing);

/**
 * Whether the entrant is not sure of what stands on a label or sidewall, or of which of several states something is in, or says
 * that there is none although the record has it: who ticks it has not read it, nor said which.
 */
function isToBeRead(run: Run, missing: Missing): boolean {
  const { key, field } = parseCellKey(missing.cell ?? '');
  const item = findItem(key);
  const isUnsure = saidOf(run, missing)?.kind === 'not-sure';
  if (item === undefined || !(isUnsure || isOnRecordAllTheSame(run, missing))) return false;
  return isReadOff(item) || isNamed(item, field);
}

function isNamed({ answer, answeredBy }: Item, field: string | undefined): boolean {
  const type = answer.kind === 'fields' ? answer.fields[field ?? '']?.type : answer;
  return answeredBy !== 'entrant' && type?.kind === 'choice';
}

/** What clears a finding that lacks something: what the car does not have cannot be measured, what nobody has read is read. */
export function clearsMissing(head: FindingHead, run: Run, missing: readonly Missing[]): ClearedBy {
  if (missing.some((one) => isNotThere(run, one))) return 'look';
  return missing.some((one) => isToBeRead(run, one)) ? 'measure' : head.clearedBy;
}

/** From the mildest to what bars at once (`undefined`). */
const ORDER: readonly (Awaits | undefined)[] = ['nothing', 'look', 'inspector', undefined];

const usualOfNone = ({ effect }: FindingHead): 'pass' | 'inspect' => (effect === 'advise' ? 'pass' : 'inspect');

/** What only the entrant can answer, the line cannot find out for him: such a question is as good as not answered. */
function usualOfNotSure({ cell }: Missing): 'bar' | 'inspect' {
  const { key } = parseCellKey(cell ?? '');
  return findItem(key)?.answeredBy === 'entrant' ? 'bar' : 'inspect';
}

function awaitsOne(head: FindingHead, run: Run, missing: Missing): Awaits | undefined {
  if (missing.ofRecord) return 'look';
  if (missing.inspectorOnly) return 'inspector';
  const said = saidOf(run, missing);
  if (said === undefined) return undefined;
  const { doesNotApply, notSure } = head.noAnswer ?? {};
  const means = said.kind === 'not-sure' ? (notSure ?? usualOfNotSure(missing)) : (doesNotApply ?? usualOfNone(head));
  return means === 'pass' ? 'nothing' : means === 'inspect' ? 'look' : undefined;
}

/** What a finding waits for: the hardest of what is missing. `undefined`: something was simply not answered. */
export function awaitsOf(head: FindingHead, run: Run, missing: readonly Missing[]): Awaits | undefined {
  let hardest = missing.length === 0 ? ORDER.length - 1 : 0;
  for (const one of missing) hardest = Math.max(hardest, ORDER.indexOf(awaitsOne(head, run, one)));
  return ORDER[hardest];
}

/** What is missing, for people; what was said in its place stands with it. */
export function saysOf(run: Run, missing: Missing): string {
  const said = saidOf(run, missing);
  if (said === undefined) return missing.says;
  const named = missing.says.replace(/^No answer for /, '');
  if (said.kind === 'not-sure') {
    const alone = usualOfNotSure(missing) === 'bar';
    return `${named}: the entrant is not sure, ${alone ? 'and only the entrant can find out' : 'so the line looks'}`;
  }
  return `${named}: declared not to apply (${NO_ANSWER_REASONS[said.reason]})`;
}
