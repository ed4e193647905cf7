import { text as garageText } from '../garage/text.ts';
import { Access } from '../shared/access.tsx';
import { boot } from '../shared/boot.tsx';
import { CarPage } from './car-page.tsx';
import { text } from './text.ts';
// After the theme, which it builds on.
import './car.css';

/** From the declaration one comes with the entrant's access, else with the link of the car. */
const isOfEntry = new URLSearchParams(location.search).has('entry');

void boot({
  // parts of the car and units have the words of the declaration
  text: { load: (language) => Promise.all([text.load(language), garageText.load(language)]) },
  title: () => text.t('title'),
  view: () => (
    <Access page={isOfEntry ? 'garage' : 'car'} title={text.t('title')}>
      {(session) => <CarPage session={session} />}
    </Access>
  ),
});
