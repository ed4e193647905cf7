import { call } from '../../api/call.ts';
import { getEntry, placeHold } from '../../api/operations.ts';
import { ask, type Desk, type Done } from './desk.ts';

/** Holds that were sent without an answer, by entry and reason: they may stand. */
const unsure = new Set<string>();

/**
 * Holds a car. A hold has no key that makes it safe to send twice, so one that was not answered is looked for before it
 * is sent again.
 */
export async function hold(desk: Desk, entryId: string, reason: string): Promise<Done> {
  const { token, holder } = desk.session;
  const name = `${entryId} ${reason}`;
  if (unsure.has(name)) {
    const entry = await ask(desk, () => call(getEntry, { params: { entryId } }, { token }));
    if (!entry.ok) return entry;
    const stands = entry.value.body.holds.some((one) => one.reason === reason && one.placedBy === holder);
    if (stands) unsure.delete(name);
    if (stands) return { ok: true, value: undefined };
  }
  unsure.add(name);
  const done = await ask(desk, () => call(placeHold, { params: { entryId }, body: { reason } }, { token }));
  if (done.ok || done.why.kind === 'problem') unsure.delete(name);
  return done.ok ? { ok: true, value: undefined } : done;
}
