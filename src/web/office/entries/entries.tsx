import { useEffect, useState } from 'preact/hooks';
import { withClockTimes } from '../../shared/times.ts';
import type { OfficeContext } from '../parts/office-context.ts';
import { Input, Select } from '../parts/form.tsx';
import { go, Link, place } from '../parts/link.tsx';
import { Loaded, type Trouble, TroubleBox, troubleOf } from '../parts/panel.tsx';
import { type Status, STATUSES, StatusMark } from '../parts/status.tsx';
import { useLoad } from '../parts/use-load.ts';
import { text } from '../text.ts';
import { NewEntry } from './edit-entry.tsx';
import { EntryDetail } from './entry-detail.tsx';
import { useGroups } from './entry-fields.tsx';
import { type Filter, readRows, type Row, type Rows } from './read-rows.ts';

const { t } = text;

/** The list, or one entry. */
export function Entries({ office }: { office: OfficeContext }) {
  const [adding, setAdding] = useState(false);
  const { entry } = place.value;
  if (entry !== undefined) return <EntryDetail key={entry} entryId={entry} office={office} />;
  if (adding) {
    return (
      <NewEntry
        office={office}
        onDone={(entryId) => {
          setAdding(false);
          if (entryId !== undefined) go({ section: 'entries', entry: entryId });
        }}
      />
    );
  }
  return (
    <>
      {office.session.role === 'organizer' && (
        <div class="row">
          <button type="button" onClick={() => setAdding(true)}>
            {t('entry.new')}
          </button>
        </div>
      )}
      <EntryList office={office} />
    </>
  );
}

/** Entries by number, run group and status. */
function EntryList({ office }: { office: OfficeContext }) {
  const groups = useGroups(office);
  const [filter, setFilter] = useState<Filter>({ carNumber: '', runGroupId: place.value.group ?? '', status: '' });
  const load = useLoad(`rows ${office.eventId} ${JSON.stringify(filter)}`, () => readRows(office, filter, undefined));
  const change = (part: Partial<Filter>): void => setFilter((old) => ({ ...old, ...part }));
  return (
    <>
      <div class="filters" role="search" aria-label={t('filter')}>
        <Input
          label={t('carNumber')}
          value={filter.carNumber}
          onValue={(carNumber) => change({ carNumber: carNumber.trim() })}
        />
        <Select
          label={t('group')}
          value={filter.runGroupId}
          onValue={(runGroupId) => change({ runGroupId })}
          options={[
            ['', t('filter.allGroups')],
            ...(groups.data ?? []).map(({ runGroupId, name }) => [runGroupId, name] as const),
          ]}
        />
        <Select
          label={t('status')}
          value={filter.status}
          onValue={(status) => change({ status: status as Status | '' })}
          options={[
            ['', t('filter.allStatuses')],
            ...STATUSES.map((status) => [status, t(`status.${status}`)] as const),
          ]}
        />
      </div>
      <Loaded of={load}>{(first) => <Pages key={JSON.stringify(filter)} {...{ office, filter, first }} />}</Loaded>
    </>
  );
}

function Pages({ office, filter, first }: { office: OfficeContext; filter: Filter; first: Rows }) {
  const [pages, setPages] = useState<readonly Rows[]>([first]);
  const [trouble, setTrouble] = useState<Trouble>();
  useEffect(() => setPages([first]), [first]);
  const rows = pages.flatMap((page) => page.rows);
  const next = pages.at(-1)?.next;
  const more = async (): Promise<void> => {
    try {
      const page = await readRows(office, filter, next);
      setTrouble(undefined);
      setPages((old) => [...old, page]);
    } catch (error) {
      setTrouble(troubleOf(error));
    }
  };
  return (
    <>
      <p role="status">{t(next === undefined ? 'entries.count' : 'entries.countMore', { count: rows.length })}</p>
      <ul class="plain entries">
        {rows.map((row) => (
          <EntryRow key={row.entryId} row={row} timeZone={office.timeZone} />
        ))}
      </ul>
      {trouble !== undefined && <TroubleBox trouble={trouble} />}
      {next !== undefined && (
        <div class="row">
          <button type="button" onClick={() => void more()}>
            {t('entries.more')}
          </button>
        </div>
      )}
    </>
  );
}

function EntryRow({ row, timeZone }: { row: Row; timeZone: string }) {
  return (
    <li class="entry-row">
      <Link to={{ section: 'entries', entry: row.entryId }} class="car">
        <strong class="number">{row.carNumber}</strong> {row.runGroup}
      </Link>
      <StatusMark status={row.status} />
      <span>
        {row.vehicle}
        {row.entrant !== undefined && <span class="soft"> · {row.entrant}</span>}
      </span>
      <span class="soft">{withClockTimes(row.reason, timeZone)}</span>
    </li>
  );
}
