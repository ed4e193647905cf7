import { CAUTIONS } from './cautions.ts';

/** The caution that stands on every verdict, form, sign-off, gate answer and sheet. */
export const GENERAL_CAUTION: string = CAUTIONS.general.text;
