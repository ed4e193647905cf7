import { type Answers, parseAnswers } from '../domain/declaration.ts';
import type { Tx } from '../platform/db.ts';

interface StoredCheck {
  item: string;
  position?: string;
  value?: unknown;
}

/**
 * What the newest sign-off of an inspection measured, as answers; empty when nothing was. A check that a later
 * catalogue cannot read is left out: its point then counts as declared, or as not known.
 */
export async function measuredAtLine(db: Tx, inspectionId: string): Promise<Answers> {
  const row = await db.signOff.findFirst({ where: { inspectionId }, orderBy: { signedAt: 'desc' } });
  // `checks` is written by the sign-off only, from checked values
  const checks = (row?.checks ?? []) as unknown as readonly StoredCheck[];
  const measured = new Map<string, Answers extends ReadonlyMap<string, infer V> ? V : never>();
  for (const { item, position, value } of checks) {
    if (value === undefined) continue;
    const parsed = parseAnswers({ [item]: position === undefined ? value : { [position]: value } });
    for (const [cell, answer] of parsed.ok ? parsed.answers : []) measured.set(cell, answer);
  }
  return measured;
}
