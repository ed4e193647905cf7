import { Access } from '../shared/access.tsx';
import { boot } from '../shared/boot.tsx';
import { GateApp } from './app.tsx';
import './gate.css';
import { text } from './text.ts';

void boot({
  text,
  title: () => text.t('title'),
  view: () => (
    <Access page="gate" title={text.t('title')}>
      {(session) => <GateApp session={session} />}
    </Access>
  ),
});
