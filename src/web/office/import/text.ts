import { defineText } from '../../shared/text.ts';

/** Texts of lists in and out, loaded with the part itself. */
export const importText = defineText({ en: () => import('./text/en.json'), de: () => import('./text/de.json') });
