import { defineText } from '../shared/text.ts';

export const text = defineText({ en: () => import('./text/en.json'), de: () => import('./text/de.json') });
