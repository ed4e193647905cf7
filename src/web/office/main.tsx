import { boot } from '../shared/boot.tsx';
import './office.css';
import { Office } from './office.tsx';
import { text } from './text.ts';

void boot({ text, title: () => text.t('title'), view: () => <Office /> });
