import { Access } from '../shared/access.tsx';
import { holdsText } from '../shared/holds/unsent-stops.tsx';
import { boot } from '../shared/boot.tsx';
import { Garage } from './garage.tsx';
import { typedEntry, typedFrom } from './context.ts';
import { text } from './text.ts';
// After the theme, which it builds on.
import './garage.css';

void boot({
  text: { load: (language) => Promise.all([text.load(language), holdsText.load(language)]) },
  title: () => text.t('title'),
  view: () => {
    const typed = typedEntry();
    return (
      <Access page={typed === undefined ? 'garage' : typedFrom()} title={text.t('title')}>
        {(session) => <Garage session={session} typed={typed} />}
      </Access>
    );
  },
});
