import { useGarage } from '../context.ts';
import { ItemPhotos, SHEET_ITEM } from '../item/item-photos.tsx';
import { isGiven } from '../kept/answers-count.ts';
import { placeOfCell, placesAt } from '../kept/asked.ts';
import { type Cells, EACH } from '../kept/cells.ts';
import type { Declaration } from '../kept/declaration.ts';
import { setCells } from '../kept/declaration.ts';
import type { FormView } from '../kept/form.ts';
import { LIFTED, UNDERSIDE } from '../screens/plan.ts';
import { screenTitle, shownScreens } from '../screens/screen.tsx';
import { hasSheetPhoto, notSurePlaces } from '../screens/workshop-first.tsx';
import { text as page } from '../text.ts';
import { BlankSheet } from './blank-sheet.tsx';
import { text } from './text.ts';

export { text } from './text.ts';
const { t } = text;

/** The sheet for a workshop, and what is done with it when it comes back. */
export function WorkshopPage({ form }: { form: FormView }) {
  const { declaration, go } = useGarage();
  const lifted = shownScreens(declaration, form).filter(({ id, asked }) => LIFTED.includes(id) && asked.length > 0);
  const item = declaration.items.value.find(({ key }) => key === SHEET_ITEM);
  return (
    <>
      <section class="screen stack no-print" aria-labelledby="workshop">
        <div class="row">
          <button type="button" class="quiet" onClick={() => go({ name: 'walk' })}>
            {page.t('screen.back')}
          </button>
        </div>
        <h2 id="workshop" tabIndex={-1}>
          {t('title')}
        </h2>
        <p>{t('says')}</p>
        <p class="caution">{t('sheet.caution')}</p>
        <button type="button" class="primary" onClick={() => globalThis.print()}>
          {t('print')}
        </button>
        <h3>{t('back')}</h3>
        {item === undefined ? (
          <p>{t('no-photo')}</p>
        ) : (
          <>
            <p>{t('back.says')}</p>
            <ItemPhotos item={item} />
          </>
        )}
        {declaration.photoFault.value !== undefined && (
          <p class="notice bad" role="alert">
            {page.t('photo.failed', { detail: declaration.photoFault.value })}
          </p>
        )}
        <h3>{t('type')}</h3>
        <p>{t('type.says')}</p>
        <ul class="plain stack">
          {lifted.map(({ id }) => (
            <li key={id}>
              <button type="button" onClick={() => go({ name: 'screen', screen: id })}>
                {screenTitle(form, id)}
              </button>
            </li>
          ))}
        </ul>
        {item !== undefined && <Stands form={form} />}
      </section>
      <BlankSheet form={form} screens={lifted} />
    </>
  );
}

/** The cells of the underside that are asked and open. */
function openBelow(declaration: Declaration, form: FormView): string[] {
  const keys = new Set(
    shownScreens(declaration, form)
      .filter(({ id }) => UNDERSIDE.includes(id))
      .flatMap(({ asked }) => asked.map(({ key }) => key)),
  );
  const { cells, items } = declaration;
  return form.asked.cells.filter((cell) => {
    const { key } = placeOfCell(cell);
    return (
      keys.has(key) &&
      !isGiven(
        cells.value,
        cell,
        items.value.find((one) => one.key === key),
      )
    );
  });
}

/** "Not sure" at every place of these cells that has no answer of its own. */
function notSureAt({ items, cells }: Declaration, open: readonly string[]): Cells {
  const places = open.flatMap((cell) => {
    const { key, position } = placeOfCell(cell);
    const item = items.value.find((one) => one.key === key);
    if (item === undefined) return [];
    const positions = position === EACH ? (item.positions ?? []) : [position];
    return positions.flatMap((at) => placesAt(item, at));
  });
  const free = places.filter(({ cell }) => cells.value[cell] === undefined);
  return Object.fromEntries(free.map(({ cell }) => [cell, { notSure: true as const }]));
}

/** Where the organizer allows it the photo stands for what is open below the car: the line looks, with the sheet beside it. */
function Stands({ form }: { form: FormView }) {
  const { declaration, sync } = useGarage();
  if (!form.workshopSheet) return <p class="soft">{t('not-here')}</p>;
  const open = openBelow(declaration, form);
  const isThere = hasSheetPhoto(declaration);
  const left = notSurePlaces(declaration).length;
  return (
    <>
      <h3>{t('stands')}</h3>
      <p>{t('stands.says')}</p>
      {!isThere && <p class="notice look">{t('stands.first')}</p>}
      {isThere && open.length > 0 && declaration.open.value && (
        <button
          type="button"
          onClick={() => {
            setCells(declaration, notSureAt(declaration, open));
            sync.typed();
          }}
        >
          {t('stands.act', { count: open.length })}
        </button>
      )}
      <p role="status">
        {isThere && open.length === 0 && (left > 0 ? t('stands.done', { count: left }) : t('stands.none'))}
      </p>
    </>
  );
}
