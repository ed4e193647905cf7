import { boot } from '../shared/boot.tsx';
import { holdsText } from '../shared/holds/unsent-stops.tsx';
import type { Language } from '../shared/text.ts';
import './office.css';
import { Office } from './office.tsx';
import { text } from './text.ts';

const load = (language: Language) => Promise.all([text.load(language), holdsText.load(language)]);

void boot({ text: { load }, title: () => text.t('title'), view: () => <Office /> });
