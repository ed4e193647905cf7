import { findItem } from '../../catalogue/catalogue.ts';
import { parseCellKey } from '../../declaration/declaration.ts';
import { NO_ANSWER_REASONS, type NoAnswer, noAnswerAt } from '../../declaration/no-answer.ts';
import type { Awaits } from '../model/finding.ts';
import type { FindingHead } from './build-finding.ts';
import type { Missing, Run } from './run.ts';

/** What was said in the place of what is missing; only of answers that the entrant can give. */
function saidOf(run: Run, { cell, inspectorOnly }: Missing): NoAnswer | undefined {
  return cell === undefined || inspectorOnly ? undefined : noAnswerAt(run.answers, cell);
}

/** Whether what is missing was said not to apply to the car. */
export const isSaidNotToApply = (run: Run, missing: Missing): boolean =>
  saidOf(run, missing)?.kind === 'does-not-apply';

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
