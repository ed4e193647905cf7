import type { FormView } from '../api/operations.ts';
import { useGarage } from './context.ts';
import { dateText, timeText } from './say.ts';
import { text } from './text.ts';

const { t } = text;

/** Which car, where, until when; and the last submission. */
export function Head({ form, hasLink }: { form: FormView; hasLink: boolean }) {
  const { desk, go } = useGarage();
  const entry = desk.entry.value;
  const inspection = desk.inspection.value;
  const { opensAt, closesAt } = form.window;
  const { startsOn, endsOn, timeZone, name } = form.event;
  const described: unknown = entry?.vehicle['description'];
  const description = typeof described === 'string' ? described : '';
  const days = startsOn === endsOn ? dateText(startsOn) : `${dateText(startsOn)} – ${dateText(endsOn)}`;
  return (
    <section class="head" aria-label={t('head.name')}>
      <p class="car-number number">
        <span class="unseen">{t('head.number')} </span>
        {form.carNumber}
      </p>
      <div class="head-text">
        <p>
          <strong>{form.runGroup}</strong>
          {description !== '' && ` · ${description}`}
        </p>
        <p>
          {name} · {days}
        </p>
        <p class={desk.open.value ? '' : 'notice look'}>{windowText()}</p>
        {hasLink && inspection !== undefined && (
          <p class="row no-print">
            <button type="button" onClick={() => go({ name: 'verdict' })}>
              {t('head.verdict', { revision: inspection.revision })}
            </button>
          </p>
        )}
      </div>
    </section>
  );

  function windowText(): string {
    if (entry?.clearance.status === 'withdrawn') return t('window.withdrawn');
    if (form.window.open) return t('window.closes', { at: timeText(closesAt, timeZone) });
    const isBefore = new Date(opensAt).getTime() > Date.now();
    return isBefore
      ? t('window.opens', { at: timeText(opensAt, timeZone) })
      : t('window.closed', { at: timeText(closesAt, timeZone) });
  }
}
