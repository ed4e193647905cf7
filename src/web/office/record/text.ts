import { defineText } from '../../shared/text.ts';

/** Texts of an entry's record, loaded with the part itself. */
export const recordText = defineText({ en: () => import('./text/en.json'), de: () => import('./text/de.json') });
