import './screens.css';
import type { FormView } from '../kept/form.ts';
import { StuckList } from '../conflicts.tsx';
import { useGarage, type View } from '../context.ts';
import { BriefItem, Item } from '../item/item.tsx';
import { type FormItem, placeOfCell } from '../kept/asked.ts';
import type { Declaration } from '../kept/declaration.ts';
import { text } from '../text.ts';
import { Doubts } from './doubts.tsx';
import { goodCells, LookRows } from './look-rows.tsx';
import { screensOf, type ShownScreen } from './plan.ts';

const { t } = text;

/** The screens of this car as it is answered by now. */
export function shownScreens(declaration: Declaration, form: FormView): ShownScreen[] {
  const asked = new Set(form.asked.cells.map((cell) => placeOfCell(cell).key));
  // what waits for another answer is there as soon as that is given, also without a network
  const isAsked = (item: FormItem): boolean =>
    asked.has(item.key) || (item.askedAfter !== undefined && item.asked !== 'optional');
  const items = declaration.shown.value;
  return screensOf(items, (key) => items.some((item) => item.key === key && isAsked(item)));
}

/** The title of a screen; one that no plan names is the rest of its area. */
export function screenTitle(form: FormView, id: string): string {
  const key = `screen.${id}` as Parameters<typeof t>[0];
  const said = t(key);
  return said === key ? (form.areas.find(({ area }) => area === id)?.label ?? id) : said;
}

/** One subject: what can hurt, what is seen at one look, what is typed, and on. */
export function ScreenPage({ form, id }: { form: FormView; id: string }) {
  const { declaration, go } = useGarage();
  const screens = shownScreens(declaration, form);
  const walked = screens.filter(({ asked, id: one }) => asked.length > 0 || one === id);
  const index = walked.findIndex((one) => one.id === id);
  const screen = walked[index];
  if (screen === undefined) return null;
  const next = walked.slice(index + 1).find(({ asked }) => asked.length > 0);
  const looks = screen.asked.filter((item) => goodCells(item) !== undefined);
  const others = screen.asked.filter((item) => goodCells(item) === undefined);
  const goOn: View = next === undefined ? { name: 'check' } : { name: 'screen', screen: next.id };
  return (
    <section class="screen stack" aria-labelledby="screen">
      <div class="row spread no-print">
        <button type="button" class="quiet" onClick={() => go({ name: 'walk' })}>
          {t('screen.back')}
        </button>
        <span class="soft">{t(`part.${screen.part}`)}</span>
      </div>
      <h2 id="screen" tabIndex={-1}>
        {screenTitle(form, id)}
      </h2>
      <Cautions texts={newCautions(walked, index)} />
      {declaration.photoFault.value !== undefined && (
        <p class="notice bad" role="alert">
          {t('photo.failed', { detail: declaration.photoFault.value })}
        </p>
      )}
      {others.map((item) => (
        <BriefItem key={item.key} item={item} />
      ))}
      {looks.length > 0 && <LookRows key={id} items={looks} />}
      <StuckList />
      <Doubts form={form} keys={[...screen.asked, ...screen.optional].map(({ key }) => key)} />
      <button type="button" class="primary go-on" onClick={() => go(goOn)}>
        {next === undefined ? t('screen.to-check') : t('screen.go-on')}
      </button>
      <Optional items={screen.optional} />
    </section>
  );
}

/** What only advice reads, or nothing: there for who wants to say it. */
function Optional({ items }: { items: readonly FormItem[] }) {
  if (items.length === 0) return null;
  return (
    <details class="more">
      <summary>{t('more.title', { count: items.length })}</summary>
      <p class="soft">{t('more.says')}</p>
      {items.map((item) => (
        <Item key={item.key} item={item} />
      ))}
    </details>
  );
}

const cautionsOf = ({ asked }: ShownScreen): string[] => asked.flatMap(({ cautions }) => cautions);

/** Said at the screen of the first act that needs it, in each part anew: who begins in the middle reads it too. */
function newCautions(screens: readonly ShownScreen[], index: number): string[] {
  const screen = screens[index];
  if (screen === undefined) return [];
  const before = new Set(
    screens
      .slice(0, index)
      .filter(({ part }) => part === screen.part)
      .flatMap(cautionsOf),
  );
  return [...new Set(cautionsOf(screen))].filter((caution) => !before.has(caution));
}

function Cautions({ texts }: { texts: readonly string[] }) {
  const [first, ...others] = texts;
  if (first === undefined) return null;
  return (
    <div class="caution" role="note" aria-label={t('cautions.title')}>
      <p>{first}</p>
      {others.length > 0 && (
        <details>
          <summary>{t('cautions.more', { count: others.length })}</summary>
          {others.map((one) => (
            <p key={one}>{one}</p>
          ))}
        </details>
      )}
    </div>
  );
}
