import type { VehicleRecords } from '../api/operations.ts';
import { currentLanguage } from '../shared/text.ts';
import type { Car } from './car.ts';
import { text } from './text.ts';

const { t } = text;

type EventRecord = VehicleRecords['events'][number];
type Value = EventRecord['wear'][number];

const dateText = (day: string): string =>
  new Intl.DateTimeFormat(currentLanguage(), { dateStyle: 'medium', timeZone: 'UTC' }).format(
    new Date(`${day}T00:00:00Z`),
  );
const cellOf = ({ item, position, field }: Value): string => `${item}@${position ?? ''}#${field ?? ''}`;
const valueText = ({ value, unit }: Value): string =>
  typeof value === 'number'
    ? `${value.toLocaleString(currentLanguage())}${unit === undefined ? '' : ` ${unit}`}`
    : typeof value === 'string' && /^\d{4}-\d\d-\d\d$/u.test(value)
      ? dateText(value)
      : String(value);

/** Numbers worth keeping: what was last measured and how much it wore, when what was serviced, the set-up of the last event. */
export function Kept({ car }: { car: Car }) {
  const [last, before] = car.records.value?.events ?? [];
  if (last === undefined) return null;
  const setUp = (car.records.value?.events ?? []).find(
    ({ setup, decision }) => setup.length > 0 && decision !== 'refuse',
  );
  return (
    <details class="panel car-section">
      <summary>
        <h2>{t('kept.title')}</h2>
        <span>{t('kept.from', { event: last.event, day: dateText(last.endsOn) })}</span>
      </summary>
      <div class="stack">
        <List title={t('kept.wear')} values={last.wear} also={(value) => wornText(value, before)} />
        <List title={t('kept.services')} values={last.services} />
        {setUp !== undefined && <List title={t('kept.setup', { day: dateText(setUp.endsOn) })} values={setUp.setup} />}
      </div>
    </details>
  );
}

function List({ title, values, also }: { title: string; values: readonly Value[]; also?: (value: Value) => string }) {
  if (values.length === 0) return null;
  return (
    <section class="stack">
      <h3>{title}</h3>
      <ul class="kept-list">
        {values.map((value) => (
          <li key={cellOf(value)}>
            {value.label}
            {value.position !== undefined && ` ${value.position}`}: <strong>{valueText(value)}</strong>
            {also?.(value)}
          </li>
        ))}
      </ul>
    </section>
  );
}

/** How much less it is than at the event before; nothing where it is more: then it is new. */
function wornText(value: Value, before: EventRecord | undefined): string {
  const earlier = before?.wear.find((one) => cellOf(one) === cellOf(value));
  if (typeof value.value !== 'number' || typeof earlier?.value !== 'number') return '';
  const worn = Math.round((earlier.value - value.value) * 100) / 100;
  return worn <= 0 ? '' : ` · ${t('kept.worn', { worn: valueText({ ...value, value: worn }) })}`;
}
