import { useEffect, useRef, useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { type EntryView, getEntry } from '../../api/operations.ts';
import { sentOrThrow } from '../../shared/stops.ts';
import { reasonText } from '../../shared/times.ts';
import { Fact } from '../overview/what-now.tsx';
import { dayAndTime, given, type OfficeContext, say, useLoad } from '../parts/office-context.ts';
import { Form, Input } from '../parts/form.tsx';
import { Lazy } from '../parts/lazy.tsx';
import { Link } from '../parts/link.tsx';
import { Loaded, Panel } from '../parts/panel.tsx';
import { StatusMark } from '../parts/status.tsx';
import { text } from '../text.ts';
import { Concessions } from './concessions.tsx';
import { EditEntry } from './edit-entry.tsx';
import { History, Inspections } from './history.tsx';
import { Holds } from './holds.tsx';

const ROLES = ['driver', 'crew', 'preparer'] as const;

/** Who is named on the entry; address and telephone where the server tells them. */
function People({ entry, onEdit }: { entry: EntryView; onEdit: (() => void) | undefined }) {
  const { entrant, people, clearance } = entry;
  const mayDeclare = clearance.status !== 'withdrawn' && clearance.status !== 'cancelled';
  return (
    <Panel title={t('people.title')}>
      <dl class="facts">
        <Fact name={t('entrant.name')} value={entrant.name} />
        {entrant.email !== undefined && <Fact name={t('entrant.email')} value={entrant.email} />}
        {entrant.phone !== undefined && <Fact name={t('entrant.phone')} value={entrant.phone} />}
        {people.map(({ name, role }) => (
          <Fact key={`${role} ${name}`} name={roleName(role)} value={name} />
        ))}
      </dl>
      <div class="row no-print">
        {onEdit !== undefined && (
          <button type="button" onClick={onEdit}>
            {t('entry.edit')}
          </button>
        )}
        {mayDeclare && (
          <a class="button" href={`/garage?entry=${encodeURIComponent(entry.entryId)}&office`}>
            {t('entry.declare')}
          </a>
        )}
      </div>
      {mayDeclare && <p class="soft">{t('entry.declareHint')}</p>}
    </Panel>
  );
}

function roleName(role: string): string {
  const known = ROLES.find((one) => one === role);
  return known === undefined ? role : t(`person.${known}`);
}

const { t } = text;

interface Read {
  entry: EntryView;
  etag: string | undefined;
}

/** Everything about one entry, and what can be done with it. */
export function EntryDetail({ entryId, office }: { entryId: string; office: OfficeContext }) {
  const load = useLoad<Read>(`entry ${entryId}`, async (signal) => {
    const { body, etag } = await call(getEntry, { params: { entryId } }, { token: office.token, signal });
    return { entry: body, etag };
  });
  const unsentStops = office.stops.waiting.value.length;
  const before = useRef(unsentStops);
  useEffect(() => {
    // What was kept on this device is with the server now.
    if (unsentStops < before.current) load.reload();
    before.current = unsentStops;
  }, [unsentStops]);
  return (
    <>
      <p class="no-print">
        <Link to={{ section: 'entries' }} class="button">
          {t('entries.back')}
        </Link>
      </p>
      <Loaded of={load}>{(read) => <Detail {...read} office={office} reload={load.reload} at={load.at ?? 0} />}</Loaded>
    </>
  );
}

function Detail({ entry, etag, office, reload, at }: Read & { office: OfficeContext; reload(): void; at: number }) {
  const [editing, setEditing] = useState(false);
  const organizer = office.session.role === 'organizer';
  const withdrawn = entry.clearance.status === 'withdrawn';
  return (
    <>
      <h3 class="entry-title">
        {t('car', { number: entry.carNumber })}, {entry.runGroup}
      </h3>
      <Clearance entry={entry} office={office} />
      {editing && (
        <EditEntry
          {...{ entry, etag, office }}
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
          <CarPart entry={entry} office={office} at={at} reload={reload} />
        </div>
      )}
      <Holds entry={entry} office={office} reload={reload} />
      <Concessions entry={entry} office={office} reload={reload} at={at} />
      <RecordPart entryId={entry.entryId} office={office} at={at} reload={reload} />
      <Inspections entryId={entry.entryId} office={office} at={at} />
      <History entryId={entry.entryId} office={office} at={at} />
      {organizer && <PersonalPart entry={entry} office={office} reload={reload} />}
      {organizer && !withdrawn && <Withdraw entry={entry} office={office} reload={reload} />}
    </>
  );
}

const loadCarFacts = () => import('./car-facts.tsx');

/** What the car is, with the words of its own page, fetched when an entry is opened. */
function CarPart(props: { entry: EntryView; office: OfficeContext; at: number; reload(): void }) {
  return (
    <Lazy name="car facts" load={loadCarFacts}>
      {({ CarFacts }) => <CarFacts {...props} />}
    </Lazy>
  );
}

const loadRecord = () => import('../record/record.tsx');

/** What was said, seen, measured and decided, fetched when an entry is opened. */
function RecordPart(props: { entryId: string; office: OfficeContext; at: number; reload(): void }) {
  return (
    <Lazy name="record" load={loadRecord}>
      {({ Record }) => <Record {...props} />}
    </Lazy>
  );
}

const loadPersonal = () => import('../personal/personal.tsx');

function PersonalPart(props: { entry: EntryView; office: OfficeContext; reload(): void }) {
  return (
    <Lazy name="personal" load={loadPersonal}>
      {({ Personal }) => <Personal {...props} />}
    </Lazy>
  );
}

function Clearance({ entry, office }: { entry: EntryView; office: OfficeContext }) {
  const { admit, status, reason, validUntil, conditions } = entry.clearance;
  return (
    <Panel title={t('clearance.title')}>
      <p class={`notice ${admit ? 'good' : 'bad'}`} data-status={status}>
        <StatusMark status={status} /> {admit ? t('clearance.admit') : t('clearance.stop')}{' '}
        {reasonText(reason, office.timeZone)}
      </p>
      {validUntil !== null && <p>{t('clearance.until', { time: dayAndTime(validUntil, office.timeZone) })}</p>}
      {conditions.length > 0 && (
        <ul>
          {conditions.map(({ id, text: what, dueAt }) => (
            <li key={id}>
              {what}
              {dueAt !== undefined && ` ${t('conditions.due', { time: dayAndTime(dueAt, office.timeZone) })}`}
            </li>
          ))}
        </ul>
      )}
    </Panel>
  );
}

/** Takes an entry out of the event; it cannot be taken back. */
function Withdraw({ entry, office, reload }: { entry: EntryView; office: OfficeContext; reload(): void }) {
  const [open, setOpen] = useState(false);
  const [reason, setReason] = useState('');
  const { eventId, entryId, carNumber } = entry;
  return (
    <Panel title={t('withdraw.title')}>
      {!open && (
        <div class="row">
          <button type="button" onClick={() => setOpen(true)}>
            {t('withdraw.open')}
          </button>
        </div>
      )}
      {open && (
        <Form
          label={t('withdraw.title')}
          submit={t('withdraw.send')}
          tone="bad"
          onCancel={() => setOpen(false)}
          onSend={async () => {
            const { stops } = office;
            const sent = await sentOrThrow(stops, stops.withdraw({ eventId, entryId, carNumber }, given(reason)));
            say(t(sent === 'sent' ? 'withdraw.done' : 'withdraw.kept', { number: carNumber }));
            if (sent === 'sent') reload();
            else setOpen(false);
          }}
        >
          <p>{t('withdraw.caution')}</p>
          <Input label={t('withdraw.reason')} pointer="/reason" value={reason} onValue={setReason} />
        </Form>
      )}
    </Panel>
  );
}
