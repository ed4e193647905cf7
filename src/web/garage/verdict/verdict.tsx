import { useState } from 'preact/hooks';
import { conditionIn } from '../../../domain/log/condition-words.ts';
import { type EntryView, getCalendar, type InspectionView } from '../../api/operations.ts';
import { reasonText } from '../../shared/times.ts';
import { call } from '../../api/call.ts';
import { offerFile } from '../../shared/offer-file.ts';
import { currentLanguage, words } from '../../shared/text.ts';
import { useGarage } from '../context.ts';
import { Mark, markOfVerdict } from '../item/mark.tsx';
import type { FormView } from '../kept/form.ts';
import { FixSteps, Why } from './fix-steps.tsx';
import { timeText } from './say.ts';
import { Sheet } from './sheet.tsx';
import { text } from './text.ts';

/** By when what must have happened, and the same for the calendar of the telephone. */
export function Dates({ form }: { form: FormView }) {
  const { declaration } = useGarage();
  const [fault, setFault] = useState<string>();
  const entry = declaration.entry.value;
  const zone = form.event.timeZone;
  const due = entry?.clearance.conditions.filter(({ dueAt }) => dueAt !== undefined) ?? [];
  const save = async (): Promise<void> => {
    setFault(undefined);
    try {
      const params = { entryId: declaration.entryId };
      const { body } = await call(getCalendar, { params }, { token: declaration.session.token });
      offerFile(body, `${t('dates.file', { number: form.carNumber })}.ics`);
    } catch (error) {
      setFault(error instanceof Error && error.name !== 'Unreachable' ? error.message : words.t('network.none'));
    }
  };
  return (
    <section class="panel stack no-print" aria-labelledby="dates">
      <h3 id="dates">{t('dates.title')}</h3>
      <ul>
        {form.window.open && <li>{t('dates.closes', { at: timeText(form.window.closesAt, zone) })}</li>}
        {due.map(({ id, text: what, dueAt = '' }) => (
          <li key={id}>{t('dates.due', { what, at: timeText(dueAt, zone) })}</li>
        ))}
      </ul>
      <p>{t('dates.says')}</p>
      <div class="row">
        <button type="button" onClick={() => void save()}>
          {t('dates.save')}
        </button>
      </div>
      {fault !== undefined && (
        <p class="notice bad" role="alert">
          {fault}
        </p>
      )}
    </section>
  );
}

export { text } from './text.ts';
const { t } = text;

/** What happens now: verdict and why, what to put right in which order, what the line looks at, dates, and the sheet for the line. */
export function Verdict({ form, inspection }: { form: FormView; inspection: InspectionView }) {
  const { declaration, go } = useGarage();
  const entry = declaration.entry.value;
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
        <Next form={form} inspection={inspection} />
        {entry !== undefined && <Clearance entry={entry} form={form} />}
        <Why findings={inspection.findings} counts="bar" />
        <FixSteps inspection={inspection} />
        <Why findings={inspection.findings} counts="inspect" />
      </section>
      <Dates form={form} />
      <div class="row no-print">
        {declaration.open.value && (
          <button type="button" onClick={() => go({ name: 'walk' })}>
            {t('verdict.edit')}
          </button>
        )}
        <button type="button" class="primary" onClick={() => globalThis.print()}>
          {t('verdict.print')}
        </button>
      </div>
      {declaration.open.value && <p class="no-print">{t('verdict.edit.says')}</p>}
      <Sheet form={form} inspection={inspection} />
    </>
  );
}

function Next({ form, inspection }: { form: FormView; inspection: InspectionView }) {
  const { declaration } = useGarage();
  const status = declaration.entry.value?.clearance.status;
  if (inspection.ticket !== null) {
    const { place, told } = inspection.ticket;
    if (told !== undefined) {
      const at = timeText(told.at, form.event.timeZone);
      const { lane } = told;
      const says = lane === undefined ? t('next.told', { at }) : t('next.told.lane', { at, lane });
      return <p class="notice told">{says}</p>;
    }
    return <p class="notice">{place === 1 ? t('next.first') : t('next.place', { place })}</p>;
  }
  if (inspection.verdict === 'barred' && status !== 'withdrawn') return <p class="notice bad">{t('next.barred')}</p>;
  return null;
}

/** What the gate says of the car now, in words. */
function Clearance({ entry, form }: { entry: EntryView; form: FormView }) {
  const { declaration } = useGarage();
  // Nobody else knows of it yet, and what they would say does not count.
  if ((declaration.stops.value?.waiting.value.length ?? 0) > 0) return null;
  const { status, reason, admit, validUntil, conditions } = entry.clearance;
  const zone = form.event.timeZone;
  return (
    <section class={`notice stack ${admit ? 'good' : 'look'}`} aria-labelledby="clearance">
      <h3 id="clearance">{t('clearance.title')}</h3>
      <p>
        <strong>{t(`clearance.${status}`)}</strong> {reasonText(reason, zone)}
      </p>
      {validUntil !== null && <p>{t('clearance.until', { at: timeText(validUntil, zone) })}</p>}
      {conditions.length > 0 && (
        <ul>
          {conditions.map(({ id, text: condition, dueAt }) => (
            <li key={id}>
              {conditionIn(condition, currentLanguage())}
              {dueAt !== undefined && ` (${t('clearance.due', { at: timeText(dueAt, zone) })})`}
            </li>
          ))}
        </ul>
      )}
    </section>
  );
}
