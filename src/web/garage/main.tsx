import { Access } from '../shared/access.tsx';
import { holdsText } from '../shared/holds/text.ts';
import { boot } from '../shared/boot.tsx';
import { Garage } from './garage.tsx';
import { text } from './text.ts';
// After the theme, which it builds on.
import './garage.css';

void boot({
  text: { load: (language) => Promise.all([text.load(language), holdsText.load(language)]) },
  title: () => text.t('title'),
  view: () => (
    <Access page="garage" title={text.t('title')}>
      {(session) => <Garage session={session} />}
    </Access>
  ),
});
