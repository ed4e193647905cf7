import { createHash } from 'node:crypto';
import type { Actor } from '../../domain/actor.ts';
import { inThread, URGENCY } from '../../http/body/in-thread.ts';
import type { Threads } from '../../platform/threads/threads.ts';
import { type CheckedRules, ruleCheckTask, type RuleText } from './rule-check.task.ts';

/** What is asked often is kept: the check depends on the text alone, and runs every example. */
const KEPT = 20;
const kept = new Map<string, CheckedRules>();

/** A rule set as the check takes it. */
export const rulesAsText = ({ document, text }: { document: unknown; text?: string | undefined }): RuleText =>
  text === undefined ? { json: JSON.stringify(document) } : { yaml: text };

/**
 * Reads and checks a rule set, beside the thread that answers requests.
 *
 * @throws ProblemError `too-heavy`, `too-much-at-once`, `threads-busy`
 */
export async function checkRules(
  { threads }: { threads: Threads },
  actor: Pick<Actor, 'tokenId'>,
  text: RuleText,
): Promise<CheckedRules> {
  const [form, content] = 'json' in text ? ['json', text.json] : ['yaml', text.yaml];
  const key = createHash('sha256').update(form).update(content).digest('base64');
  const known = kept.get(key);
  if (known !== undefined) return known;
  const asked = { caller: actor.tokenId, urgency: URGENCY.check };
  const checked = await inThread(threads, ruleCheckTask, text, asked);
  kept.set(key, checked);
  const oldest = kept.keys().next().value;
  if (kept.size > KEPT && oldest !== undefined) kept.delete(oldest);
  return checked;
}
