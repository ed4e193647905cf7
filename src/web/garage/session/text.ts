import { defineText } from '../../shared/text.ts';

/** Texts of what is written down after a session, fetched when somebody goes there. */
export const text = defineText({ en: () => import('./text/en.json'), de: () => import('./text/de.json') });
