import { defineText } from '../../shared/text.ts';

/** Texts of the limits, loaded with the part itself. */
export const limitsText = defineText({ en: () => import('./text/en.json'), de: () => import('./text/de.json') });
