import { boot } from '../shared/boot.tsx';
import { text as garageText } from '../garage/text.ts';
import { text as verdictText } from '../garage/verdict/text.ts';
import { Enter } from './enter.tsx';
import { ShopPage } from './shop-page.tsx';
import { text } from './text.ts';
// After the theme, which they build on.
import '../garage/garage.css';
import './shop.css';

// Questions are asked as in the garage, and parts have the same names.
const all = [text, garageText, verdictText];

void boot({
  text: { load: (language) => Promise.all(all.map((one) => one.load(language))) },
  title: () => text.t('title'),
  view: () => <Enter>{(session, told) => <ShopPage session={session} told={told} />}</Enter>,
});
