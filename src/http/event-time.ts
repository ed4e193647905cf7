import { InstantIn, PlainDateIn } from './common-schemas.ts';

// Typing errors in a year are common, and a year that the database cannot store must not get that far.
const isPlausible = (text: string) => /^20\d\d-/.test(text);
const YEARS = 'must lie in the years 2000 to 2099';

/** A day that somebody plans for. */
export const PlannedDay = PlainDateIn.refine(isPlausible, YEARS);
/** An instant that somebody plans for. */
export const PlannedInstant = InstantIn.refine(isPlausible, YEARS);
