import type { EntryView, FormView } from '../api/operations.ts';
import { withClockTimes } from '../shared/times.ts';
import { useGarage } from './context.ts';
import { timeText } from './say.ts';
import { text } from './text.ts';

const { t } = text;

/** What the gate says of the car now, in words. */
export function Clearance({ entry, form }: { entry: EntryView; form: FormView }) {
  const { desk } = useGarage();
  // Nobody else knows of it yet, and what they would say does not count.
  if ((desk.stops.value?.waiting.value.length ?? 0) > 0) return null;
  const { status, reason, admit, validUntil, conditions } = entry.clearance;
  const zone = form.event.timeZone;
  return (
    <section class={`notice stack ${admit ? 'good' : 'look'}`} aria-labelledby="clearance">
      <h3 id="clearance">{t('clearance.title')}</h3>
      <p>
        <strong>{t(`clearance.${status}`)}</strong> {withClockTimes(reason, zone)}
      </p>
      {validUntil !== null && <p>{t('clearance.until', { at: timeText(validUntil, zone) })}</p>}
      {conditions.length > 0 && (
        <ul>
          {conditions.map(({ id, text: condition, dueAt }) => (
            <li key={id}>
              {condition}
              {dueAt !== undefined && ` (${t('clearance.due', { at: timeText(dueAt, zone) })})`}
            </li>
          ))}
        </ul>
      )}
    </section>
  );
}
