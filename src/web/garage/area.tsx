import type { FormView } from '../api/operations.ts';
import { useGarage } from './context.ts';
import { Item } from './item.tsx';
import { StuckList } from './stuck-list.tsx';
import { text } from './text.ts';
import { UnitsPanel } from './units-panel.tsx';

const { t } = text;

/** One area: its cautions, its questions, and on to the next. */
export function Area({ form, area }: { form: FormView; area: string }) {
  const { desk, go } = useGarage();
  const index = form.areas.findIndex((one) => one.area === area);
  const next = form.areas[index + 1];
  const items = desk.items.value.filter((item) => item.area === area);
  const atLine = form.items.filter((item) => item.area === area && item.answeredBy === 'inspector');
  return (
    <>
      <div class="row spread no-print">
        <button type="button" onClick={() => go({ name: 'walk' })}>
          {t('area.back')}
        </button>
        <span class="soft">{t('area.of', { n: index + 1, all: form.areas.length })}</span>
      </div>
      <h2 id="area" tabIndex={-1}>
        {form.areas[index]?.label}
      </h2>
      <Cautions texts={[...new Set(items.flatMap((item) => item.cautions))]} />
      {desk.photoFault.value !== undefined && (
        <p class="notice bad" role="alert">
          {t('photo.failed', { detail: desk.photoFault.value })}
        </p>
      )}
      <UnitsPanel />
      {items.map((item) => (
        <Item key={item.key} item={item} />
      ))}
      {atLine.length > 0 && (
        <p class="notice">{t('area.at-line', { list: atLine.map(({ label }) => label).join(', ') })}</p>
      )}
      <StuckList />
      <div class="row spread">
        {next === undefined ? (
          <button type="button" class="primary" onClick={() => go({ name: 'walk' }, 'submit')}>
            {t('area.finish')}
          </button>
        ) : (
          <button type="button" class="primary" onClick={() => go({ name: 'area', area: next.area })}>
            {t('area.next', { label: next.label })}
          </button>
        )}
      </div>
    </>
  );
}

/** What can hurt in this area, before the first task of it. */
function Cautions({ texts }: { texts: readonly string[] }) {
  if (texts.length === 0) return null;
  return (
    <section class="notice look" aria-labelledby="cautions">
      <h3 id="cautions">{t('cautions.title')}</h3>
      <ul>
        {texts.map((one) => (
          <li key={one}>{one}</li>
        ))}
      </ul>
    </section>
  );
}
