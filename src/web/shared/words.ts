import { defineText } from './text.ts';

/** Texts that every page needs. */
export const words = defineText({ en: () => import('./text/en.json'), de: () => import('./text/de.json') });
