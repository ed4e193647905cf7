import type { Finding } from '../../api/operations.ts';
import type { FormView } from '../kept/form.ts';
import { StuckList } from '../conflicts.tsx';
import { useGarage } from '../context.ts';
import { BriefItem } from '../item/item.tsx';
import { Mark, markOfCounts } from '../item/mark.tsx';
import { countOf } from '../kept/answers-count.ts';
import { fixesOf, fixOf } from '../kept/asked.ts';
import { itemId } from '../kept/cells.ts';
import { text } from '../text.ts';
import { positionName } from '../verdict/say.ts';
import { SubmitPanel } from '../verdict/submit-panel.tsx';
import { Doubts } from './doubts.tsx';
import { DECLARES, PARTS, type ShownScreen } from './plan.ts';
import { screenTitle, shownScreens } from './screen.tsx';
import { WorkshopFirst } from './workshop-first.tsx';

const { t } = text;

/** Before it is sent: what to fix, what the line will look at, what is open; the rest is counted per part. */
export function Check({ form }: { form: FormView }) {
  const { declaration, go } = useGarage();
  const screens = shownScreens(declaration, form);
  const wrong = declaration.judged.value.filter(({ result }) => result === 'not-met');
  const open = screens.filter(({ asked }) => {
    const count = countOf(declaration, asked);
    return count.given < count.asked;
  });
  const declares = declaration.items.value.find(({ key }) => key === DECLARES);
  return (
    <section class="stack" aria-labelledby="check">
      <div class="row no-print">
        <button type="button" class="quiet" onClick={() => go({ name: 'walk' })}>
          {t('screen.back')}
        </button>
      </div>
      <h2 id="check" tabIndex={-1}>
        {t('check.title')}
      </h2>
      <Found findings={wrong} counts="bar" screens={screens} />
      <Found findings={wrong} counts="inspect" screens={screens} />
      {open.length > 0 && (
        <>
          <h3>{t('check.open')}</h3>
          <ul class="plain stack">
            {open.map(({ id }) => (
              <li key={id} class="row spread">
                <span>{screenTitle(form, id)}</span>
                <button type="button" onClick={() => go({ name: 'screen', screen: id })}>
                  {t('check.answer')} <span class="unseen">{screenTitle(form, id)}</span>
                </button>
              </li>
            ))}
          </ul>
        </>
      )}
      <Doubts form={form} />
      <WorkshopFirst />
      <Rest screens={screens} />
      {declares !== undefined && <BriefItem item={declares} />}
      <StuckList />
      <SubmitPanel />
    </section>
  );
}

interface FoundProps {
  findings: readonly Finding[];
  counts: 'bar' | 'inspect';
  screens: readonly ShownScreen[];
}

function Found({ findings, counts, screens }: FoundProps) {
  const { go } = useGarage();
  const fixes = fixesOf(findings).filter(({ worst }) => worst.counts === counts);
  if (fixes.length === 0) return null;
  return (
    <>
      <h3 class={`part ${markOfCounts(counts)}`}>
        <Mark kind={markOfCounts(counts)} /> {t(`fix.${counts}`, { count: fixes.length })}
      </h3>
      <ul class="plain stack">
        {fixes.map(({ ruleId, worst, findings: of }) => {
          const screen = screens.find(({ asked, optional }) =>
            [...asked, ...optional].some(({ key }) => key === worst.items[0]),
          );
          const places = of.flatMap(({ position }) => (position === undefined ? [] : [positionName(position)]));
          return (
            <li key={`${ruleId} ${worst.message}`} class={`finding found ${markOfCounts(counts)}`}>
              <span>
                <strong>{worst.title}</strong>
                {places.length > 0 && ` (${places.join('; ')})`}: {worst.message} {fixOf(worst)}
              </span>
              {screen !== undefined && (
                <button
                  type="button"
                  onClick={() => go({ name: 'screen', screen: screen.id }, itemId(worst.items[0] ?? ''))}
                >
                  {t('fix.change')} <span class="unseen">{worst.title}</span>
                </button>
              )}
            </li>
          );
        })}
      </ul>
    </>
  );
}

function Rest({ screens }: { screens: readonly ShownScreen[] }) {
  const { declaration } = useGarage();
  return (
    <ul class="plain">
      {PARTS.map((part) => {
        const own = screens.filter((one) => one.part === part).flatMap(({ asked }) => asked);
        const { asked, given } = countOf(declaration, own);
        return asked === 0 ? null : (
          <li key={part}>
            {t(`part.${part}`)}: {t('progress', { given, asked })}
          </li>
        );
      })}
    </ul>
  );
}
