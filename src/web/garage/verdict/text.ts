import { defineText } from '../../shared/text.ts';

/** Texts of what happens after a submission, fetched when somebody goes there. */
export const text = defineText({ en: () => import('./text/en.json'), de: () => import('./text/de.json') });
