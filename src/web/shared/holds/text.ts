import { defineText } from '../text.ts';

/** Texts of holds, loaded by the pages that show them: the gate has its own, and is small. */
export const holdsText = defineText({ en: () => import('./text/en.json'), de: () => import('./text/de.json') });
