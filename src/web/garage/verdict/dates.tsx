import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { getCalendar } from '../../api/operations.ts';
import { offerFile } from '../../shared/offer-file.ts';
import { words } from '../../shared/words.ts';
import { useGarage } from '../context.ts';
import type { FormView } from '../kept/form.ts';
import { timeText } from './say.ts';
import { text } from './text.ts';

const { t } = text;

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
