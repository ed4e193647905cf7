import { defineText } from '../../shared/text.ts';

/** Texts of what is printed, loaded with the part itself. */
export const printText = defineText({ en: () => import('./text/en.json'), de: () => import('./text/de.json') });
