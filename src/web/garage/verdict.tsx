import type { FormView, InspectionView } from '../api/operations.ts';
import { Clearance } from './clearance.tsx';
import { useGarage } from './context.ts';
import { FixList } from './fix-list.tsx';
import { Mark, markOfVerdict } from './mark.tsx';
import { timeText } from './say.ts';
import { Sheet } from './sheet.tsx';
import { text } from './text.ts';

const { t } = text;

/** What became of a submission: verdict, what to fix, what happens next, and the sheet for the line. */
export function Verdict({ form, inspection }: { form: FormView; inspection: InspectionView }) {
  const { desk, go } = useGarage();
  const entry = desk.entry.value;
  const kind = markOfVerdict(inspection.verdict);
  return (
    <>
      <section class="stack" aria-labelledby="verdict">
        <div class={`big-verdict ${kind}`}>
          <Mark kind={kind} />
          <h2 id="verdict" tabIndex={-1}>
            {t(`verdict.${inspection.verdict}`)}
          </h2>
        </div>
        <p class="soft">
          {t('verdict.revision', {
            revision: inspection.revision,
            at: timeText(inspection.submittedAt, form.event.timeZone),
          })}
        </p>
        {inspection.cause === 'rejudged' && <p class="notice look">{t('verdict.rejudged')}</p>}
        <Next inspection={inspection} />
        {entry !== undefined && <Clearance entry={entry} form={form} />}
        <FixList inspection={inspection} />
      </section>
      <div class="row no-print">
        {desk.open.value && (
          <button type="button" onClick={() => go({ name: 'walk' })}>
            {t('verdict.edit')}
          </button>
        )}
        <button type="button" class="primary" onClick={() => globalThis.print()}>
          {t('verdict.print')}
        </button>
      </div>
      {desk.open.value && <p class="no-print">{t('verdict.edit.says')}</p>}
      <Sheet form={form} inspection={inspection} />
    </>
  );
}

function Next({ inspection }: { inspection: InspectionView }) {
  const { desk } = useGarage();
  const status = desk.entry.value?.clearance.status;
  if (inspection.ticket !== null) {
    const { place } = inspection.ticket;
    return <p class="notice">{place === 1 ? t('next.first') : t('next.place', { place })}</p>;
  }
  if (inspection.verdict === 'barred' && status !== 'withdrawn') return <p class="notice bad">{t('next.barred')}</p>;
  return null;
}
