import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { type RunGroupView, setTimetable } from '../../api/operations.ts';
import { Form, Input } from '../parts/form.tsx';
import { type OfficeContext, say } from '../parts/office-context.ts';
import { text } from '../text.ts';
import { laterBy, type Row, toRows, toSessions, withNext } from './timetable-rows.ts';

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
