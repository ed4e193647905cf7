import { useGarage } from '../context.ts';
import { itemId } from '../kept/cells.ts';
import { cellOf } from '../kept/asked.ts';
import { setCells } from '../kept/declaration.ts';
import type { FormView } from '../kept/form.ts';
import { text } from '../text.ts';
import { positionName } from '../verdict/say.ts';
import { screensOf } from './plan.ts';

const { t } = text;

type Doubt = FormView['doubts'][number];

/** The axles of the places of a doubt: whether something is new is asked of each of them. */
const axlesOf = ({ places }: Doubt): string[] => [
  ...new Set(places.map((place) => (place.startsWith('F') || place === 'front' ? 'front' : 'rear'))),
];

/**
 * Answers that do not go together, as a question: first whether something is new since last time, then to read again. Nobody has
 * to: what is left is looked at by the line. With `keys` only what is about these items.
 */
export function Doubts({ form, keys }: { form: FormView; keys?: readonly string[] }) {
  const { declaration } = useGarage();
  // a form that was kept by a version from before has none; what is typed at the line is not the draft that it is about
  const all = (form as Partial<FormView>).doubts ?? [];
  const own = declaration.isTyped ? [] : all.filter(({ item }) => keys?.includes(item) ?? true);
  if (own.length === 0) return null;
  return (
    <section class="notice look stack" aria-labelledby="fits">
      <h3 id="fits">{t('fits.title')}</h3>
      {own.map((doubt) => (
        <OneDoubt key={`${doubt.item} ${doubt.code}`} doubt={doubt} form={form} isHere={keys !== undefined} />
      ))}
      <p>{t('fits.then')}</p>
    </section>
  );
}

function OneDoubt({ doubt, form, isHere }: { doubt: Doubt; form: FormView; isHere: boolean }) {
  const { declaration, sync, go } = useGarage();
  const { item, newItem, says, places, saidNotNew } = doubt;
  const asked = form.items.find(({ key }) => key === item);
  const label = asked?.label ?? item;
  const isWhole = places.length === asked?.positions?.length;
  const screen = screensOf(form.items, () => true).find(({ asked }) => asked.some(({ key }) => key === item));
  const say = (isNew: boolean): void => {
    if (newItem === undefined) return;
    setCells(declaration, Object.fromEntries(axlesOf(doubt).map((axle) => [cellOf(newItem, axle), isNew])));
    sync.typed();
  };
  const asksFirst = newItem !== undefined && !saidNotNew && doubt.code !== 'same-everywhere';
  return (
    <div class="stack">
      <p>
        <strong>{label}</strong>
        {!isWhole && ` (${places.map(positionName).join('; ')})`}: {says}
      </p>
      {asksFirst && declaration.open.value ? (
        <fieldset class="row">
          <legend>{t('fits.new')}</legend>
          <button type="button" onClick={() => say(true)}>
            {t('fits.new.yes')}
          </button>
          <button type="button" onClick={() => say(false)}>
            {t('fits.new.no')}
          </button>
        </fieldset>
      ) : (
        <p>{t('fits.again')}</p>
      )}
      {screen !== undefined && !isHere && (
        <button type="button" onClick={() => go({ name: 'screen', screen: screen.id }, itemId(item))}>
          {t('fix.change')} <span class="unseen">{label}</span>
        </button>
      )}
    </div>
  );
}
