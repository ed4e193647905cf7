import { defineText } from '../../shared/text.ts';

/** What drawings show and which tools are needed, fetched after the first look at the page. */
export const text = defineText({ en: () => import('./text/en.json'), de: () => import('./text/de.json') });
