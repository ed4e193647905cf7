import { Access, beginAccess } from '../shared/access.tsx';
import { holdsText } from '../shared/holds/unsent-stops.tsx';
import { boot } from '../shared/boot.tsx';
import { Garage } from './garage.tsx';
import { typedEntry, typedFrom } from './context.ts';
import { text } from './text.ts';
// After the theme, which it builds on.
import './garage.css';

const typed = typedEntry();
// Who types for an entrant comes from the line or the office.
const page = typed === undefined ? 'garage' : typedFrom();
beginAccess(page);

void boot({
  text: { load: (language) => Promise.all([text.load(language), holdsText.load(language)]) },
  title: () => text.t('title'),
  view: () => (
    <Access page={page} title={text.t('title')}>
      {(session) => <Garage session={session} typed={typed} />}
    </Access>
  ),
});
