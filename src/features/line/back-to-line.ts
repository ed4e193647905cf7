import { z } from 'zod';
import { Id, text } from '../../http/frame/common-schemas.ts';

import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { barStands } from '../../domain/clearance/clearance.ts';
import { ChangedClearance, viewClearance, wayToDeclareAtLine } from '../../http/views/clearance-view.ts';
import { ProblemError } from '../../http/frame/problem.ts';
import { inTransaction, type Tx } from '../../platform/database/db.ts';
import { assertNoInterest } from '../../records/conflict-of-interest.ts';
import { type LockedEntry, lockEntryForChange, stateOf } from '../../records/locks/entry-lock.ts';
import { recordCarHistory, recordEntryHistory } from '../../records/history/history.ts';
import { findLiveTicket, findPlace, putOnLine } from '../../records/tickets.ts';

interface SendingBack {
  entryId: string;
  reason: string;
  requestId: string;
}

/**
 * Puts a car on the line again with what was declared last, also after the window: refused, expired or accepted. What the
 * line decided before no longer counts, and its sticker is void; what was found wrong with the car stands until it is accepted.
 *
 * @throws ProblemError `not-found`, `conflict-of-interest`, `bar-stands`, `state-moved-on` (withdrawn, never declared, or on
 *   the line already, with its place)
 */
export async function backToLine(deps: Deps, actor: Actor, sending: SendingBack): Promise<SentBackView> {
  return inTransaction(deps.db.prisma, async (tx) => {
    const entry = await lockEntryForChange(tx, sending.entryId, 'change');
    await assertNoInterest(tx, actor, entry.entryId);
    const now = deps.clock.now();
    const inspectionId = await assertMayWait(tx, entry, now);
    const { reason, requestId } = sending;
    const why = { actor, at: now, data: { reason, entryId: entry.entryId }, requestId };
    // Before the row of the entry, so that nothing in between says what the gate never said.
    const sticker = entry.facts.signOff?.stickerNumber;
    if (sticker !== undefined) {
      const event = { type: 'car-sent-back', stickers: [sticker] } as const;
      await recordCarHistory(tx, entry.car, { ...why, action: 'car.sent-back', happening: event });
    }
    const event = { type: 'sent-back', reason } as const;
    await recordEntryHistory(tx, entry, { ...why, data: { reason }, action: 'entry.sent-back', happening: event });
    await putOnLine(tx, entry, now);
    const waiting = await findPlace(tx, inspectionId);
    if (waiting === undefined) throw new Error('a car that was put on the line is not there');
    const { entryId, carNumber } = entry;
    return { entryId, carNumber, ...waiting, clearance: viewClearance(stateOf(entry), now) };
  });
}

async function assertMayWait(tx: Tx, { entryId, facts, carNumber }: LockedEntry, now: Date): Promise<string> {
  const { declared } = facts;
  if (declared === undefined) {
    const wayOut = wayToDeclareAtLine(entryId);
    const detail = `Car ${carNumber} has no declaration to go on the line with. ${wayOut.words}`;
    throw new ProblemError('state-moved-on', detail, { currentState: 'no-declaration', wayOut });
  }
  if ((await findLiveTicket(tx, entryId)) !== undefined) {
    const place = (await findPlace(tx, declared.inspectionId))?.place;
    throw new ProblemError('state-moved-on', `Car ${carNumber} is on the line already, at place ${place}.`, {
      currentState: 'in-line',
      place,
    });
  }
  const bars = declared.bars.filter((bar) => barStands(bar, now));
  if (bars.length === 0) return declared.inspectionId;
  const titles = [...new Set(bars.map(({ title }) => title))].join('; ');
  const standing = bars.map(({ ruleId, title }) => ({ ruleId, title }));
  throw new ProblemError('bar-stands', `Not met or not known: ${titles}.`, { standing, currentState: 'barred' });
}

export const SendBack = z
  .strictObject({ reason: text(300).describe('Why it goes through the line again: driver and marshal read it') })
  .meta({ id: 'SendBack' });
export type SendBack = z.infer<typeof SendBack>;

export const SentBackView = ChangedClearance.extend({
  ticketId: Id,
  place: z.int().describe('Place on the line, 1 is next'),
}).meta({ id: 'SentBackView' });
export type SentBackView = z.infer<typeof SentBackView>;
