import type { Deps } from '../../deps.ts';
import { notFound } from '../../http/problem.ts';
import { listAcceptances, outcomeOf } from '../../records/event-days.ts';
import { applyChanges } from './apply-changes.ts';
import { admissionDays, daysTag, sameDays } from './days.ts';
import type { EventPreview } from './preview-schemas.ts';
import type { EventChanges } from './schemas.ts';
import { findEvent } from './store.ts';

/**
 * Shows what other days, or another zone, would do to the cars that are signed off. Nothing is written.
 *
 * @throws ProblemError `not-found`, `not-acceptable`
 */
export async function previewEvent(deps: Deps, eventId: string, changes: EventChanges): Promise<EventPreview> {
  const db = deps.db.prisma;
  const current = await findEvent(db, eventId);
  if (current === undefined) throw notFound('event');
  const { days } = await applyChanges(db, current, changes);
  const accepted = await listAcceptances(db, { eventId, days: admissionDays(current) });
  const wanted = admissionDays(days);
  const cars = accepted.map((acceptance) => {
    const { entryId, carNumber, signOff } = acceptance;
    const found = outcomeOf(acceptance, wanted);
    const validUntil = 'validUntil' in found ? found.validUntil : null;
    return { entryId, carNumber, outcome: found.outcome, validUntil, before: signOff.validUntil ?? null };
  });
  const count = (outcome: (typeof cars)[number]['outcome']) => cars.filter((car) => car.outcome === outcome).length;
  return {
    preview: daysTag(eventId, current, days),
    sameDays: sameDays(current, days),
    signedOff: cars.length,
    follows: count('follows'),
    keeps: count('keeps'),
    ends: count('ends'),
    lineAgain: count('line-again'),
    cars,
  };
}
