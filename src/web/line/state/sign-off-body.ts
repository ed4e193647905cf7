import type { SignOffInput } from '../../api/operations.ts';
import { buildChecks, type Items } from './checks.ts';
import type { Decision, Draft } from './draft.ts';
import { dueAt } from './hindrances.ts';

/** The sign-off as it is sent. The caller knows that nothing that must be there is missing. */
export function signOffBody(draft: Draft, decision: Decision, items: Items): SignOffInput {
  const { checks } = buildChecks(draft, items);
  const note = draft.note.trim();
  const withNote = note === '' ? {} : { note };
  if (decision === 'refuse') return { decision, checks, ...withNote };
  const accepted = { decision, checks, stickerNumber: draft.sticker.trim(), ...withNote };
  if (decision === 'accept') return accepted;
  const conditions = draft.conditions.map((condition) => {
    const due = dueAt(condition, draft.firstSessionAt);
    const text = condition.text.trim();
    return due === undefined ? { text } : { text, dueAt: due };
  });
  return { ...accepted, conditions };
}
