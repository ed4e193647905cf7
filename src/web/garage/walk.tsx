import type { FormView } from './kept/form.ts';
import { countOf } from './kept/answers-count.ts';
import { useGarage } from './context.ts';
import { type Declaration, setCells } from './kept/declaration.ts';
import { Item, offeredCells } from './item/item.tsx';
import { Mark, type MarkKind } from './item/mark.tsx';
import { placeOfCell } from './kept/asked.ts';
import { dateText } from './verdict/say.ts';
import { StuckList } from './conflicts.tsx';
import { Hub } from './screens/hub.tsx';
import { WorkshopFirst } from './screens/workshop-first.tsx';
import { Shops } from './shops.tsx';
import { text } from './text.ts';
import { UnitsPanel } from './units-panel.tsx';

const { t } = text;

/** The parts of the declaration, the check before it is sent, and everything by area for who looks for one thing. */
export function Walk({ form }: { form: FormView }) {
  const { go } = useGarage();
  return (
    <>
      <StuckList />
      <Earlier form={form} />
      <Hub form={form} />
      <WorkshopFirst />
      <div class="row no-print">
        <button type="button" onClick={() => go({ name: 'check' })}>
          {t('hub.check')}
        </button>
        <button type="button" onClick={() => go({ name: 'workshop' })}>
          {t('hub.workshop')}
        </button>
      </div>
      <details class="panel by-area">
        <summary>{t('hub.by-area')}</summary>
        <ol class="areas plain">
          {form.areas.map(({ area, label }, index) => (
            <li key={area}>
              <AreaLink area={area} label={label} number={index + 1} />
            </li>
          ))}
        </ol>
      </details>
      <Shops form={form} />
      <UnitsPanel />
    </>
  );
}

function AreaLink({ area, label, number }: { area: string; label: string; number: number }) {
  const { declaration, go } = useGarage();
  const items = declaration.shown.value.filter((item) => item.area === area);
  const { asked, given } = countOf(declaration, items);
  const { kind, says } = stateOf(declaration, area, asked - given);
  return (
    <button type="button" class="area-link" onClick={() => go({ name: 'area', area })}>
      <span class="area-number">{number}</span>
      <span class="area-label">
        <strong>{label}</strong>
        <span class="soft">{t('progress', { given, asked })}</span>
      </span>
      <span class={`area-state ${kind}`}>
        <Mark kind={kind} /> {says}
      </span>
    </button>
  );
}

function stateOf(declaration: Declaration, area: string, missing: number): { kind: MarkKind; says: string } {
  const keys = new Set(declaration.items.value.filter((item) => item.area === area).map(({ key }) => key));
  const wrong = declaration.judged.value.filter(
    ({ items, result, watched }) => result === 'not-met' && watched !== true && keys.has(items[0] ?? ''),
  );
  if (wrong.some(({ counts }) => counts === 'bar')) return { kind: 'bad', says: t('area.bad') };
  if (wrong.some(({ counts }) => counts === 'inspect')) return { kind: 'look', says: t('area.look') };
  if (missing > 0) return { kind: 'open', says: t('area.open', { count: missing }) };
  return { kind: 'good', says: t('area.good') };
}

/** What was said last time and mostly stays the same: taken over with one tap, and only where nothing is answered yet. */
function Earlier({ form }: { form: FormView }) {
  const { declaration, sync } = useGarage();
  if (form.earlier === undefined || !declaration.open.value) return null;
  const lasting = declaration.items.value.filter((item) => item.earlier?.lasting === true);
  const offered = Object.assign(
    {},
    ...lasting.map((item) => offeredCells(item, declaration.cells.value)),
  ) as ReturnType<typeof offeredCells>;
  const count = Object.keys(offered).length;
  if (count === 0) return null;
  return (
    <section class="panel stack" aria-labelledby="earlier">
      <h2 id="earlier">{t('earlier.title')}</h2>
      <p>{t('earlier.says', { event: form.earlier.event, date: dateText(form.earlier.endsOn) })}</p>
      <button
        type="button"
        onClick={() => {
          setCells(declaration, offered);
          sync.typed();
        }}
      >
        {t('earlier.take-lasting', { count })}
      </button>
    </section>
  );
}

/** One area: its cautions, its questions, and on to the next. */
export function Area({ form, area }: { form: FormView; area: string }) {
  const { declaration, go } = useGarage();
  const index = form.areas.findIndex((one) => one.area === area);
  const next = form.areas[index + 1];
  const items = declaration.shown.value.filter((item) => item.area === area);
  const needed = new Set(form.asked.cells.map((cell) => placeOfCell(cell).key));
  const required = items.filter(({ key }) => needed.has(key));
  const optional = items.filter(({ key }) => !needed.has(key));
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
      {declaration.photoFault.value !== undefined && (
        <p class="notice bad" role="alert">
          {t('photo.failed', { detail: declaration.photoFault.value })}
        </p>
      )}
      <UnitsPanel />
      {required.map((item) => (
        <Item key={item.key} item={item} />
      ))}
      {optional.length > 0 && (
        <details class="more">
          <summary>{t('more.title', { count: optional.length })}</summary>
          <p class="soft">{t('more.says')}</p>
          {optional.map((item) => (
            <Item key={item.key} item={item} />
          ))}
        </details>
      )}
      {atLine.length > 0 && (
        <p class="notice">{t('area.at-line', { list: atLine.map(({ label }) => label).join(', ') })}</p>
      )}
      <StuckList />
      <div class="row spread">
        {next === undefined ? (
          <button type="button" class="primary" onClick={() => go({ name: 'check' }, 'submit')}>
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
