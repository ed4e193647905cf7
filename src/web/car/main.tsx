import { Access } from '../shared/access.tsx';
import { boot } from '../shared/boot.tsx';
import { CarPage } from './car-page.tsx';
import { text } from './text.ts';
// After the theme, which it builds on.
import './car.css';

/** From the declaration one comes with the entrant's access, else with the link of the car. */
const isOfEntry = new URLSearchParams(location.search).has('entry');

void boot({
  text,
  title: () => text.t('title'),
  view: () => (
    <Access page={isOfEntry ? 'garage' : 'car'} title={text.t('title')}>
      {(session) => <CarPage session={session} />}
    </Access>
  ),
});
