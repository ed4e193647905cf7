import { defineText } from '../../shared/text.ts';

/** Texts of what is to be done until the event and after it, fetched when somebody goes there. */
export const own = defineText({ en: () => import('./text/en.json'), de: () => import('./text/de.json') });
