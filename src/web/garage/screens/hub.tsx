import type { FormView } from '../kept/form.ts';
import { useGarage } from '../context.ts';
import { Mark, type MarkKind } from '../item/mark.tsx';
import { countOf } from '../kept/answers-count.ts';
import type { Declaration } from '../kept/declaration.ts';
import { text } from '../text.ts';
import { DECIDING, type Part, PARTS, type ShownScreen } from './plan.ts';
import { screenTitle, shownScreens } from './screen.tsx';

const { t } = text;

interface State {
  kind: MarkKind;
  says: string;
}

/** How far a part or a screen is: not started, so many of so many, done, or something to fix. */
function stateOf(declaration: Declaration, items: ShownScreen['asked']): State {
  const { asked, given } = countOf(declaration, items);
  const keys = new Set(items.map(({ key }) => key));
  const wrong = declaration.judged.value.filter(
    ({ items: of, result, watched }) => result === 'not-met' && watched !== true && keys.has(of[0] ?? ''),
  );
  if (wrong.some(({ counts }) => counts === 'bar')) return { kind: 'bad', says: t('area.bad') };
  if (given === 0) return { kind: 'open', says: t('hub.not-started') };
  if (given < asked) return { kind: 'open', says: t('hub.of', { given, asked }) };
  if (wrong.some(({ counts }) => counts === 'inspect')) return { kind: 'look', says: t('area.look') };
  return { kind: 'good', says: t('hub.done') };
}

/** Whether all that one part asks is answered: until then nothing is said of what it leads to. */
export function isAnyPartDone(declaration: Declaration, form: FormView): boolean {
  const screens = shownScreens(declaration, form);
  return PARTS.some((part) => {
    const { asked, given } = countOf(
      declaration,
      screens.filter((one) => one.part === part).flatMap((one) => one.asked),
    );
    return asked > 0 && given === asked;
  });
}

/** The parts of the declaration with their screens: each begins where it was left. */
export function Hub({ form }: { form: FormView }) {
  const { declaration } = useGarage();
  const screens = shownScreens(declaration, form);
  return (
    <nav aria-labelledby="walk" class="stack">
      <h2 id="walk" tabIndex={-1}>
        {t('walk.title')}
      </h2>
      <p>{t('hub.says')}</p>
      <ol class="areas plain">
        <CarFirst />
        {PARTS.map((part) => {
          const own = screens.filter((one) => one.part === part);
          return own.length === 0 ? null : (
            <li key={part}>
              <PartLink form={form} part={part} screens={own} />
            </li>
          );
        })}
      </ol>
    </nav>
  );
}

const isKnown = (record: object, path: string): boolean =>
  path.split('.').reduce<unknown>((of, name) => (of as Record<string, unknown> | undefined)?.[name], record) !==
  undefined;

/** The way to the car's own page, before the questions that hang on it. */
function CarFirst() {
  const { declaration } = useGarage();
  const record = declaration.entry.value?.vehicle;
  if (record === undefined || declaration.isTyped) return null;
  const given = DECIDING.filter((path) => isKnown(record, path)).length;
  const isDone = given === DECIDING.length;
  return (
    <li>
      <a class="button area-link part-link" href="/car?entry">
        <span class="area-label">
          <strong>{t('head.car')}</strong>
          <span class="soft">{t(isDone ? 'hub.car.done' : 'hub.car')}</span>
        </span>
        <span class={`area-state ${isDone ? 'good' : 'open'}`}>
          <Mark kind={isDone ? 'good' : 'open'} />{' '}
          {isDone ? t('hub.done') : t('hub.of', { given, asked: DECIDING.length })}
        </span>
      </a>
    </li>
  );
}

function PartLink({ form, part, screens }: { form: FormView; part: Part; screens: readonly ShownScreen[] }) {
  const { declaration, go } = useGarage();
  const asked = screens.filter((one) => one.asked.length > 0);
  const first = asked.find(({ asked: items }) => {
    const count = countOf(declaration, items);
    return count.given < count.asked;
  });
  const begin = first ?? asked[0] ?? screens[0];
  const { kind, says } = stateOf(
    declaration,
    screens.flatMap((one) => one.asked),
  );
  if (begin === undefined) return null;
  return (
    <>
      <button type="button" class="area-link part-link" onClick={() => go({ name: 'screen', screen: begin.id })}>
        <span class="area-label">
          <strong>{t(`part.${part}`)}</strong>
          <span class="soft">{t(`part.${part}.says`)}</span>
        </span>
        <span class={`area-state ${kind}`}>
          <Mark kind={kind} /> {says}
        </span>
      </button>
      <details class="part-screens">
        <summary>
          {t('hub.screens', { count: screens.length })} <span class="unseen">{t(`part.${part}`)}</span>
        </summary>
        <ul class="plain">
          {screens.map(({ id, asked: items }) => {
            const state =
              items.length === 0 ? { kind: 'open' as const, says: t('hub.optional') } : stateOf(declaration, items);
            return (
              <li key={id}>
                <button type="button" class="screen-link" onClick={() => go({ name: 'screen', screen: id })}>
                  <span>{screenTitle(form, id)}</span>
                  <span class={`area-state ${state.kind}`}>
                    <Mark kind={state.kind} /> {state.says}
                  </span>
                </button>
              </li>
            );
          })}
        </ul>
      </details>
    </>
  );
}
