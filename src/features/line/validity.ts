import { startOfDay, startOfNextDay } from '../../domain/calendar.ts';
import { ProblemError } from '../../http/problem.ts';
import type { JudgingContext } from '../../records/judging-context.ts';
import type { SignOff } from './schemas.ts';

/**
 * From when until when an acceptance holds: the event days at the venue, or until an earlier end that the inspector
 * sets. Nothing on a refusal.
 *
 * @throws ProblemError `not-acceptable` when the wished end is past or later than the event, or a condition is due already or only
 *   after the event
 */
export function validity(
  context: JudgingContext,
  signOff: SignOff,
  now: Date,
): { validFrom: Date | undefined; validUntil: Date | undefined } {
  if (signOff.decision === 'refuse') return { validFrom: undefined, validUntil: undefined };
  const validFrom = startOfDay(context.event.startsOn, context.venue.timeZone);
  const eventEnd = startOfNextDay(context.event.endsOn, context.venue.timeZone);
  assertDueInEvent(signOff, now, eventEnd);
  if (signOff.validUntil === undefined) return { validFrom, validUntil: eventEnd };
  const validUntil = new Date(signOff.validUntil);
  if (validUntil > now && validUntil <= eventEnd) return { validFrom, validUntil };
  const detail = `Must lie after now and not after the end of the event, ${eventEnd.toISOString()}.`;
  throw new ProblemError('not-acceptable', `validUntil: ${detail}`, {
    errors: [{ pointer: '/validUntil', code: 'out-of-range', detail, in: 'body' }],
  });
}

function assertDueInEvent(signOff: SignOff, now: Date, eventEnd: Date): void {
  const errors = (signOff.conditions ?? []).flatMap(({ dueAt }, index) => {
    if (dueAt === undefined) return [];
    const at = { pointer: `/conditions/${index}/dueAt`, in: 'body' as const };
    if (new Date(dueAt) <= now) {
      return [{ ...at, code: 'in-the-past', detail: 'Must lie ahead: the gate would hold the car at once.' }];
    }
    if (new Date(dueAt) < eventEnd) return [];
    const detail = `Must lie before the end of the event, ${eventEnd.toISOString()}: nobody would look at it any more.`;
    return [{ ...at, code: 'out-of-range', detail }];
  });
  if (errors.length === 0) return;
  throw new ProblemError('not-acceptable', errors.map(({ pointer, detail }) => `${pointer}: ${detail}`).join(' '), {
    errors,
  });
}
