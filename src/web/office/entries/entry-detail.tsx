import { useEffect, useRef, useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { type EntryView, getEntry } from '../../api/operations.ts';
import { withClockTimes } from '../../shared/times.ts';
import type { Desk } from '../parts/desk.ts';
import { Link } from '../parts/link.tsx';
import { Loaded } from '../parts/loaded.tsx';
import { Panel } from '../parts/panel.tsx';
import { StatusMark } from '../parts/status.tsx';
import { dayAndTime } from '../parts/time.ts';
import { useLoad } from '../parts/use-load.ts';
import { text } from '../text.ts';
import { Concessions } from './concessions.tsx';
import { EditEntry } from './edit-entry.tsx';
import { History } from './history.tsx';
import { Holds } from './holds.tsx';
import { Inspections } from './inspections.tsx';
import { People, VehicleRecord } from './people.tsx';
import { Withdraw } from './withdraw.tsx';

const { t } = text;

interface Read {
  entry: EntryView;
  etag: string | undefined;
}

/** Everything about one entry, and what can be done with it. */
export function EntryDetail({ entryId, desk }: { entryId: string; desk: Desk }) {
  const load = useLoad<Read>(`entry ${entryId}`, async (signal) => {
    const { body, etag } = await call(getEntry, { params: { entryId } }, { token: desk.token, signal });
    return { entry: body, etag };
  });
  const untold = desk.stops.waiting.value.length;
  const before = useRef(untold);
  useEffect(() => {
    // What was kept on this device is with the server now.
    if (untold < before.current) load.reload();
    before.current = untold;
  }, [untold]);
  return (
    <>
      <p class="no-print">
        <Link to={{ section: 'entries' }} class="button">
          {t('entries.back')}
        </Link>
      </p>
      <Loaded of={load}>{(read) => <Detail {...read} desk={desk} reload={load.reload} at={load.at ?? 0} />}</Loaded>
    </>
  );
}

function Detail({ entry, etag, desk, reload, at }: Read & { desk: Desk; reload(): void; at: number }) {
  const [editing, setEditing] = useState(false);
  const organizer = desk.session.role === 'organizer';
  const withdrawn = entry.clearance.status === 'withdrawn';
  return (
    <>
      <h3 class="entry-title">
        {t('car', { number: entry.carNumber })}, {entry.runGroup}
      </h3>
      <Clearance entry={entry} desk={desk} />
      {editing && (
        <EditEntry
          {...{ entry, etag, desk }}
          onDone={() => {
            setEditing(false);
            reload();
          }}
          onCancel={() => setEditing(false)}
        />
      )}
      {!editing && (
        <div class="columns">
          <People entry={entry} onEdit={organizer ? () => setEditing(true) : undefined} />
          <VehicleRecord entry={entry} />
        </div>
      )}
      <Holds entry={entry} desk={desk} reload={reload} />
      <Concessions entry={entry} desk={desk} reload={reload} at={at} />
      <Inspections entryId={entry.entryId} desk={desk} at={at} />
      <History entryId={entry.entryId} desk={desk} at={at} />
      {organizer && !withdrawn && <Withdraw entry={entry} desk={desk} reload={reload} />}
    </>
  );
}

function Clearance({ entry, desk }: { entry: EntryView; desk: Desk }) {
  const { admit, status, reason, validUntil, conditions } = entry.clearance;
  return (
    <Panel title={t('clearance.title')}>
      <p class={`notice ${admit ? 'good' : 'bad'}`} data-status={status}>
        <StatusMark status={status} /> {admit ? t('clearance.admit') : t('clearance.stop')}{' '}
        {withClockTimes(reason, desk.timeZone)}
      </p>
      {validUntil !== null && <p>{t('clearance.until', { time: dayAndTime(validUntil, desk.timeZone) })}</p>}
      {conditions.length > 0 && (
        <ul>
          {conditions.map(({ id, text: what, dueAt }) => (
            <li key={id}>
              {what}
              {dueAt !== undefined && ` ${t('conditions.due', { time: dayAndTime(dueAt, desk.timeZone) })}`}
            </li>
          ))}
        </ul>
      )}
    </Panel>
  );
}
