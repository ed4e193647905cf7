import { z } from 'zod';
import { line, PlannedDay, PlannedInstant, text } from '../../../http/frame/common-schemas.ts';

export const CancelEvent = z
  .strictObject({ reason: text(300).describe('Why; every marshal reads it at the gate') })
  .meta({ id: 'CancelEvent' });
export type CancelEvent = z.infer<typeof CancelEvent>;

export const CopyEvent = z
  .strictObject({
    name: line(120).describe('Name of the new event'),
    startsOn: PlannedDay.describe(
      'Its first day, YYYY-MM-DD at the venue; it has as many days as the one it is made from',
    ),
    declarationsOpenAt: PlannedInstant.optional().describe(
      'When declarations open; absent: as many days before the event, at the same time of day',
    ),
    declarationsCloseAt: PlannedInstant.optional().describe('When they close; absent: likewise'),
  })
  .meta({ id: 'CopyEvent' });
export type CopyEvent = z.infer<typeof CopyEvent>;

export const COPY_EXAMPLE = { name: 'Alder Ridge club weekend 2027', startsOn: '2027-06-12' };
