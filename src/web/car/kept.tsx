import type { VehicleRecords } from '../api/operations.ts';
import { positionName, quantity } from '../garage/verdict/say.ts';
import { currentLanguage } from '../shared/text.ts';
import type { Car } from './car.ts';
import { text } from './text.ts';

const { t } = text;

type EventRecord = VehicleRecords['events'][number];
type Value = EventRecord['wear'][number];
type Outing = NonNullable<EventRecord['bestOuting']>;
type Ends = VehicleRecords['ends'];

const dateText = (day: string): string =>
  new Intl.DateTimeFormat(currentLanguage(), { dateStyle: 'medium', timeZone: 'UTC' }).format(
    new Date(`${day}T00:00:00Z`),
  );
const cellOf = ({ item, position, field }: Value): string => `${item}@${position ?? ''}#${field ?? ''}`;
const nameOf = ({ label, position, part }: Value): string =>
  [label, position === undefined ? undefined : positionName(position), part]
    .filter((one) => one !== undefined)
    .join(', ');

function valueText({ value, unit }: Pick<Value, 'value' | 'unit'>): string {
  if (typeof value === 'boolean') return t(value ? 'yes' : 'no');
  if (typeof value === 'string') return /^\d{4}-\d\d-\d\d$/u.test(value) ? dateText(value) : value;
  return unit === undefined ? value.toLocaleString(currentLanguage()) : quantity(value, unit);
}

/** Numbers worth keeping: where to begin, what was last measured and how much it wore, when what was serviced, and what ends when. */
export function Kept({ car }: { car: Car }) {
  const records = car.records.value;
  const events = records?.events ?? [];
  const [last, before] = events;
  if (records === undefined || last === undefined) return null;
  const setUp = events.find(({ setup, decision }) => setup.length > 0 && decision !== 'refuse');
  return (
    <details class="panel car-section">
      <summary>
        <h2>{t('kept.title')}</h2>
        <span>{t('kept.from', { event: last.event, day: dateText(last.endsOn) })}</span>
      </summary>
      <div class="stack">
        <Next ends={records.ends} event={last.event} />
        <Begin events={events} />
        <List title={t('kept.wear')} values={last.wear} also={(value) => wornText(value, before)} />
        <List title={t('kept.services')} values={last.services} />
        {setUp !== undefined && <List title={t('kept.setup', { day: dateText(setUp.endsOn) })} values={setUp.setup} />}
      </div>
    </details>
  );
}

/** What ends when, and of the services the one that is due first. */
function Next({ ends, event }: { ends: Ends; event: string }) {
  if (ends.length === 0) return null;
  const today = new Date().toISOString().slice(0, 10);
  const [next] = ends.filter(({ of, on }) => of === 'service' && on >= today);
  const say = ({ title, on }: Ends[number]): string =>
    t(on < today ? 'kept.ended' : 'kept.next.is', { title, day: dateText(on) });
  return (
    <section class="stack">
      {next !== undefined && (
        <p class="notice look">
          <strong>{t('kept.next')}</strong>: {say(next)}
        </p>
      )}
      <h3>{t('kept.ends')}</h3>
      <p>{t('kept.ends.of', { event })}</p>
      <ul class="kept-list">
        {ends.map((one) => (
          <li key={one.title}>{say(one)}</li>
        ))}
      </ul>
    </section>
  );
}

/** The set-up to begin with: of the quickest lap of all events, else of the newest event that has one. */
function Begin({ events }: { events: readonly EventRecord[] }) {
  const outings = events.flatMap(({ bestOuting }) => bestOuting ?? []);
  const timed = outings.filter(({ bestLapSeconds }) => bestLapSeconds !== undefined);
  const [best] = timed.toSorted((a, b) => (a.bestLapSeconds ?? 0) - (b.bestLapSeconds ?? 0));
  const shown = best ?? outings[0];
  return shown === undefined ? null : <OutingView outing={shown} />;
}

function OutingView({ outing: { session, at, laps, bestLapSeconds, values, notes } }: { outing: Outing }) {
  return (
    <section class="stack">
      <h3>{t('kept.outing', { session, day: dateText(at.slice(0, 10)) })}</h3>
      <p>
        {bestLapSeconds === undefined ? t('kept.outing.last') : t('kept.outing.best', { lap: lapText(bestLapSeconds) })}
        {laps !== undefined && ` ${t('kept.outing.laps', { count: laps })}.`}
      </p>
      <ul class="kept-list">
        {values.map((value) => (
          <Line key={cellOf(value)} value={value} />
        ))}
        {notes.map((note) => (
          <li key={note}>{t('kept.outing.note', { note })}</li>
        ))}
      </ul>
      <p class="standing">{t('kept.outing.caution')}</p>
    </section>
  );
}

/** `1:41.4`, as a lap is said. */
function lapText(seconds: number): string {
  const tenths = Math.round(seconds * 10);
  const [minutes, rest] = [Math.floor(tenths / 600), (tenths % 600) / 10];
  const digits = { minimumFractionDigits: 1, minimumIntegerDigits: 2 };
  return `${minutes}:${rest.toLocaleString(currentLanguage(), digits)}`;
}

function Line({ value, also }: { value: Value; also?: string | undefined }) {
  return (
    <li>
      {nameOf(value)}: <strong>{valueText(value)}</strong>
      {also}
    </li>
  );
}

function List({ title, values, also }: { title: string; values: readonly Value[]; also?: (value: Value) => string }) {
  if (values.length === 0) return null;
  return (
    <section class="stack">
      <h3>{title}</h3>
      <ul class="kept-list">
        {values.map((value) => (
          <Line key={cellOf(value)} value={value} also={also?.(value)} />
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
