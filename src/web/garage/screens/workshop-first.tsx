import { useGarage } from '../context.ts';
import { SHEET_ITEM } from '../item/item-photos.tsx';
import { cellOf, placeOfCell } from '../kept/asked.ts';
import type { Declaration } from '../kept/declaration.ts';
import { text } from '../text.ts';

const { t } = text;

/** So many things nobody knows are more than the line can look at. Common practice, no source. */
const MOST_NOT_SURE = 5;

/** Questions, each at its place, that were answered with "not sure". */
export function notSurePlaces({ cells }: Pick<Declaration, 'cells'>): string[] {
  const said = Object.entries(cells.value).filter(
    ([, leaf]) => typeof leaf === 'object' && Object.hasOwn(leaf, 'notSure'),
  );
  return [
    ...new Set(
      said.map(([cell]) => {
        const { key, position } = placeOfCell(cell);
        return cellOf(key, position);
      }),
    ),
  ];
}

/** Whether a photo of the filled sheet is there, or waits on this device. */
export const hasSheetPhoto = ({ items, waitingPhotos }: Pick<Declaration, 'items' | 'waitingPhotos'>): boolean =>
  items.value.some(({ key, photos }) => key === SHEET_ITEM && photos.length > 0) ||
  waitingPhotos.value.some(({ item }) => item === SHEET_ITEM);

/** More than a few "not sure": a workshop looks first, with the sheet in its hand. */
export function WorkshopFirst() {
  const { declaration, go } = useGarage();
  const count = notSurePlaces(declaration).length;
  if (count <= MOST_NOT_SURE || hasSheetPhoto(declaration)) return null;
  return (
    <section class="notice look stack" aria-labelledby="workshop-first">
      <h3 id="workshop-first">{t('workshop-first.title', { count })}</h3>
      <p>{t('workshop-first.says')}</p>
      <div class="row">
        <button type="button" onClick={() => go({ name: 'workshop' })}>
          {t('hub.workshop')}
        </button>
      </div>
    </section>
  );
}
