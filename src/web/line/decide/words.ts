import { placeName } from '../format.ts';
import type { Desk } from '../state/desk.ts';
import type { Draft } from '../state/draft.ts';
import { summaryText } from '../state/summary.ts';
import { text } from '../text.ts';

const { t } = text;

/** What was entered, in the words of the page. */
export function enteredText(desk: Desk, draft: Draft): string {
  return summaryText(draft, desk.items.value, {
    place: ({ label, position }) => (position === undefined ? label : `${label}, ${placeName(position)}`),
    mark: (mark) => t(`mark.${mark}`),
    sticker: (number) => t('summary.sticker', { number }),
    condition: (words) => t('summary.condition', { text: words }),
    note: (words) => t('summary.note', { text: words }),
  });
}
