import { defineText } from '../../shared/text.ts';

/** Texts of what runs behind an event, loaded with the part itself. */
export const serviceText = defineText({ en: () => import('./text/en.json'), de: () => import('./text/de.json') });
