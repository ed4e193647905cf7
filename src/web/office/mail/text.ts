import { defineText } from '../../shared/text.ts';

/** Texts of the messages, loaded with the part itself. */
export const mailText = defineText({ en: () => import('./text/en.json'), de: () => import('./text/de.json') });
