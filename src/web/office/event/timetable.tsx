import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { type RunGroupView, type Session, setTimetable } from '../../api/operations.ts';
import { fromWallClock, toWallClock } from '../../shared/wall-clock.ts';
import { Form, Input } from '../parts/form.tsx';
import { type OfficeContext, say } from '../parts/office-context.ts';
import { text } from '../text.ts';

/** A session as it is typed: the wall clock at the venue, and how long it takes. */
interface Row {
  id: number;
  name: string;
  startsAt: string;
  minutes: string;
}

const MINUTE_MS = 60_000;
/** Of the first sessions of a group, until they say otherwise. Common practice, no source. */
const USUAL = { minutes: 20, turnMinutes: 60 };

export const toRows = (sessions: readonly Session[], timeZone: string): Row[] =>
  sessions.map(({ name, startsAt, endsAt }, id) => ({
    id,
    name,
    startsAt: toWallClock(startsAt, timeZone),
    minutes: String((Date.parse(endsAt) - Date.parse(startsAt)) / MINUTE_MS),
  }));

/** As they are sent. What is no number of minutes ends where it starts, which the server refuses at its place. */
export const toSessions = (rows: readonly Row[], timeZone: string): Session[] =>
  rows.map(({ name, startsAt, minutes }) => {
    const start = fromWallClock(startsAt, timeZone);
    const length = Number(minutes.replace(',', '.')) * MINUTE_MS;
    const end = Date.parse(start) + (Number.isFinite(length) ? length : 0);
    return { name: name.trim(), startsAt: start, endsAt: Number.isNaN(end) ? start : new Date(end).toISOString() };
  });

/** One more, as far after the last one as that is after the one before it. */
export function withNext(rows: readonly Row[], firstSessionAt: string, timeZone: string): Row[] {
  const [before, last] = rows.slice(-2);
  const id = Math.max(-1, ...rows.map((row) => row.id)) + 1;
  const name = String(rows.length + 1);
  const minutes = last?.minutes ?? before?.minutes ?? String(USUAL.minutes);
  const newest = last ?? before;
  if (newest === undefined) return [{ id, name, startsAt: toWallClock(firstSessionAt, timeZone), minutes }];
  const [from, to] = toSessions(rows.slice(-2), timeZone).map(({ startsAt }) => Date.parse(startsAt));
  const turn = from === undefined || to === undefined || !(to > from) ? USUAL.turnMinutes * MINUTE_MS : to - from;
  const at = Date.parse(fromWallClock(newest.startsAt, timeZone));
  const startsAt = Number.isNaN(at) ? newest.startsAt : toWallClock(new Date(at + turn).toISOString(), timeZone);
  return [...rows, { id, name, startsAt, minutes }];
}

/** What has not begun yet, later by some minutes: the day runs late. */
export const laterBy = (
  rows: readonly Row[],
  minutes: number,
  { now, timeZone }: { now: number; timeZone: string },
): Row[] =>
  rows.map((row) => {
    const at = Date.parse(fromWallClock(row.startsAt, timeZone));
    if (!(at > now) || !Number.isFinite(minutes)) return row;
    return { ...row, startsAt: toWallClock(new Date(at + minutes * MINUTE_MS).toISOString(), timeZone) };
  });

const { t } = text;

interface Props {
  group: RunGroupView;
  office: OfficeContext;
  /** version of the group that is shown */
  etag: string | undefined;
  onSaved(sessions: RunGroupView['sessions'], etag: string | undefined): void;
}

/** When the group is on track. What is asked of its cars between two sessions is due by it. */
export function TimetableForm({ group, office, etag, onSaved }: Props) {
  const { timeZone, token } = office;
  const [rows, setRows] = useState<readonly Row[]>(() => toRows(group.sessions, timeZone));
  const [minutes, setMinutes] = useState('');
  const [newer, setNewer] = useState<string>();
  const change = (id: number, part: Partial<Row>) =>
    setRows(rows.map((row) => (row.id === id ? { ...row, ...part } : row)));
  const send = async (): Promise<void> => {
    const params = { eventId: group.eventId, runGroupId: group.runGroupId };
    const tag = newer ?? etag;
    const headers = tag === undefined ? {} : { 'if-match': tag };
    const saved = await call(
      setTimetable,
      { params, headers, body: { sessions: toSessions(rows, timeZone) } },
      { token },
    );
    setRows(toRows(saved.body.sessions, timeZone));
    setNewer(undefined);
    onSaved(saved.body.sessions, saved.etag);
    say(t('timetable.saved', { name: group.name }));
  };
  return (
    <Form
      label={t('timetable.form', { name: group.name })}
      submit={t('timetable.save')}
      onSend={send}
      onTrouble={(trouble) => {
        if (trouble?.status === 412) setNewer(trouble.etag);
      }}
    >
      <h3>{t('timetable')}</h3>
      <p class="soft">{rows.length === 0 ? t('timetable.none') : t('timetable.what', { zone: timeZone })}</p>
      {rows.map((row, index) => (
        <SessionRow
          key={row.id}
          row={row}
          index={index}
          onChange={(part) => change(row.id, part)}
          onRemove={() => setRows(rows.filter(({ id }) => id !== row.id))}
        />
      ))}
      <div class="row">
        <button type="button" onClick={() => setRows(withNext(rows, group.firstSessionAt, timeZone))}>
          {t('timetable.add')}
        </button>
      </div>
      {rows.length > 0 && (
        <div class="row">
          <Input label={t('timetable.late')} inputMode="numeric" value={minutes} onValue={setMinutes} />
          <button type="button" onClick={() => setRows(laterBy(rows, Number(minutes), { now: Date.now(), timeZone }))}>
            {t('timetable.move')}
          </button>
        </div>
      )}
    </Form>
  );
}

interface RowProps {
  row: Row;
  index: number;
  onChange(part: Partial<Row>): void;
  onRemove(): void;
}

function SessionRow({ row, index, onChange, onRemove }: RowProps) {
  const at = (field: string) => `/sessions/${index}/${field}`;
  return (
    <fieldset>
      <legend>{t('timetable.session', { name: row.name })}</legend>
      <div class="fields">
        <Input
          label={t('timetable.name')}
          pointer={at('name')}
          value={row.name}
          onValue={(name) => onChange({ name })}
        />
        <Input
          type="datetime-local"
          label={t('timetable.starts')}
          pointer={at('startsAt')}
          value={row.startsAt}
          onValue={(startsAt) => onChange({ startsAt })}
        />
        <Input
          label={t('timetable.minutes')}
          inputMode="numeric"
          pointer={at('endsAt')}
          value={row.minutes}
          onValue={(minutes) => onChange({ minutes })}
        />
        <button type="button" aria-label={t('timetable.remove.for', { name: row.name })} onClick={onRemove}>
          {t('timetable.remove')}
        </button>
      </div>
    </fieldset>
  );
}
