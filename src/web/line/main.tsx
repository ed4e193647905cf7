import { Access } from '../shared/access.tsx';
import { boot, keepStorage, registerWorker } from '../shared/boot.tsx';
import { holdsText } from '../shared/holds/unsent-stops.tsx';
import { LinePage } from './line-page.tsx';
import './line.css';
import { startClock } from './format.ts';
import { text } from './text.ts';

void boot({
  text: { load: (language) => Promise.all([text.load(language), holdsText.load(language)]) },
  title: () => text.t('title'),
  view: () => (
    <Access page="line" title={text.t('title')}>
      {(session) => <LinePage session={session} />}
    </Access>
  ),
});
startClock();
void registerWorker('line');
void keepStorage();
