import { call } from '../../api/call.ts';
import { type EntryView, getResolvedRules, listInspections } from '../../api/operations.ts';
import type { Desk } from '../parts/desk.ts';

/** A rule that an exception can be made to; `wrong`: this car does not meet it now. */
export interface Choice {
  ruleId: string;
  title: string;
  wrong: boolean;
}

/** The rules of an entry: those that its newest declaration does not meet first, then the others. */
export async function readChoices({ token }: Desk, entry: EntryView, signal: AbortSignal): Promise<readonly Choice[]> {
  const options = { token, signal };
  const { entryId, runGroupId } = entry;
  const [inspections, resolved] = await Promise.all([
    call(listInspections, { params: { entryId } }, options),
    call(getResolvedRules, { params: { runGroupId } }, options),
  ]);
  const newest = inspections.body.inspections.toSorted((a, b) => b.revision - a.revision)[0];
  const choices = new Map<string, Choice>();
  for (const { ruleId, title, result, counts } of newest?.findings ?? []) {
    if (result !== 'met' && counts !== 'no') choices.set(ruleId, { ruleId, title, wrong: true });
  }
  for (const { rule } of resolved.body.rules) {
    const { id, title } = rule;
    if (typeof id !== 'string' || choices.has(id)) continue;
    choices.set(id, { ruleId: id, title: typeof title === 'string' ? title : id, wrong: false });
  }
  return [...choices.values()];
}
