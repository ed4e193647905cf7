import { defineText } from '../../shared/text.ts';

/** Texts of setting up, loaded with the part itself. */
export const startText = defineText({ en: () => import('./text/en.json'), de: () => import('./text/de.json') });
