import { boot } from '../shared/boot.tsx';
import { text } from './text.ts';
import { secretInAddress, WorkshopPage } from './workshop-page.tsx';
// After the theme, which it builds on.
import './workshop.css';

void boot({
  text,
  title: () => text.t('title'),
  view: () => <WorkshopPage secret={secretInAddress()} />,
});
