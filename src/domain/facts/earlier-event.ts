import { z } from 'zod';
import { isPlainDate } from '../calendar.ts';
import { POSITION_KEYS } from '../catalogue/item.ts';

const day = z.string().refine(isPlainDate, 'a date that exists, YYYY-MM-DD');
const days = z.int().min(0).max(366);

/** What is known of a car from an earlier event at which it was accepted: the newest measurements and the days driven. */
export const EarlierEvent = z.strictObject({
  startsOn: day.describe('First day of that event'),
  endsOn: day.describe('Its last day'),
  daysBefore: days.describe('Days it was driven there before the pads were measured'),
  daysAfter: days.describe('Days it was driven there afterwards'),
  padThicknessMm: z
    .partialRecord(z.enum(POSITION_KEYS['wheel-side']), z.number().min(0).max(40))
    .describe('Friction material as measured, else as declared, mm'),
});
export type EarlierEvent = z.infer<typeof EarlierEvent>;
