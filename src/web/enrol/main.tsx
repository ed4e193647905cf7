import { boot } from '../shared/boot.tsx';
import { EnrolApp } from './app.tsx';
import './enrol.css';
import { text } from './text.ts';

void boot({ text, title: () => text.t('title'), view: () => <EnrolApp /> });
