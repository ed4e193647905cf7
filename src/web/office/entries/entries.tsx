import { useEffect, useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { listEntries, listGate } from '../../api/operations.ts';
import { reasonText } from '../../shared/times.ts';
import { Input, Select } from '../parts/form.tsx';
import { go, Link, place } from '../parts/link.tsx';
import { type OfficeContext, useLoad } from '../parts/office-context.ts';
import { Loaded } from '../parts/panel.tsx';
import { type Status, STATUSES, StatusMark } from '../parts/status.tsx';
import { text } from '../text.ts';
import { NewEntry } from './edit-entry.tsx';
import { EntryDetail } from './entry-detail.tsx';
import { useGroups } from './entry-fields.tsx';
import { type Column, COLUMNS, type Filter, found, fromGate, type Row, sorted } from './rows.ts';

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

/** Rows that are drawn; the list itself has all of them. */
const SHOWN = 50;

/**
 * Every entry of the event: found by number, name or car, by run group and status, in the order of any column. The gate's list is
 * all there at once; names, which the gate has not, follow for organizers.
 */
function EntryList({ office }: { office: OfficeContext }) {
  const { eventId, token } = office;
  const names = useNames(office);
  const [filter, setFilter] = useState<Filter>({ words: '', runGroupId: place.value.group ?? '', status: '' });
  const [order, setOrder] = useState<Order>({ by: 'number', down: false });
  const [most, setMost] = useState(SHOWN);
  const load = useLoad<readonly Row[]>(`rows ${eventId}`, async (signal) => {
    const { body } = await call(listGate, { params: { eventId } }, { token, signal });
    return (body?.entries ?? []).map(fromGate);
  });
  const change = (part: Partial<Filter>): void => {
    setFilter((old) => ({ ...old, ...part }));
    setMost(SHOWN);
  };
  return (
    <>
      <Filters {...{ office, filter, order }} onFilter={change} onOrder={setOrder} />
      <Loaded of={load}>
        {(all) => {
          const named = all.map((row) => ({ ...row, entrant: names.get(row.entryId) ?? row.entrant }));
          const rows = sorted(found(named, filter), order);
          return (
            <>
              <p role="status">
                {t(rows.length > most ? 'entries.countMore' : 'entries.count', { count: Math.min(rows.length, most) })}
              </p>
              <ul class="plain entries">
                {rows.slice(0, most).map((row) => (
                  <EntryRow key={row.entryId} row={row} timeZone={office.timeZone} />
                ))}
              </ul>
              {rows.length > most && (
                <div class="row">
                  <button type="button" onClick={() => setMost(most + 4 * SHOWN)}>
                    {t('entries.more')}
                  </button>
                </div>
              )}
            </>
          );
        }}
      </Loaded>
    </>
  );
}

interface Order {
  by: Column;
  down: boolean;
}

interface FiltersProps {
  office: OfficeContext;
  filter: Filter;
  order: Order;
  onFilter(part: Partial<Filter>): void;
  onOrder(order: Order): void;
}

function Filters({ office, filter, order, onFilter, onOrder }: FiltersProps) {
  const groups = useGroups(office);
  return (
    <div class="filters" role="search" aria-label={t('filter')}>
      <Input type="search" label={t('filter.words')} value={filter.words} onValue={(words) => onFilter({ words })} />
      <Select
        label={t('group')}
        value={filter.runGroupId}
        onValue={(runGroupId) => onFilter({ runGroupId })}
        options={[
          ['', t('filter.allGroups')],
          ...(groups.data ?? []).map(({ runGroupId, name }) => [runGroupId, name] as const),
        ]}
      />
      <Select
        label={t('status')}
        value={filter.status}
        onValue={(status) => onFilter({ status: status as Status | '' })}
        options={[['', t('filter.allStatuses')], ...STATUSES.map((status) => [status, t(`status.${status}`)] as const)]}
      />
      <Select
        label={t('entries.order')}
        value={`${order.by} ${order.down}`}
        onValue={(chosen) => {
          const by = COLUMNS.find((column) => chosen.startsWith(`${column} `)) ?? 'number';
          onOrder({ by, down: chosen.endsWith('true') });
        }}
        options={COLUMNS.flatMap((by) =>
          [false, true].map((down) => [`${by} ${down}`, t(`entries.by.${by}${down ? '.down' : ''}`)] as const),
        )}
      />
    </div>
  );
}

/** Names of entrants by entry, as far as they were read; none for those who are not told. */
function useNames({ eventId, token, session }: OfficeContext): ReadonlyMap<string, string> {
  const [names, setNames] = useState<ReadonlyMap<string, string>>(new Map());
  useEffect(() => {
    if (session.role !== 'organizer') return undefined;
    const stop = new AbortController();
    const read = async (): Promise<void> => {
      let cursor: string | undefined;
      do {
        const query = { limit: 200, ...(cursor === undefined ? {} : { cursor }) };
        const { body } = await call(listEntries, { params: { eventId }, query }, { token, signal: stop.signal });
        setNames(
          (old) => new Map([...old, ...body.entries.map(({ entryId, entrant }) => [entryId, entrant.name] as const)]),
        );
        cursor = body.next;
      } while (cursor !== undefined && !stop.signal.aborted);
    };
    // Without names the list is still whole; opening it again reads them again.
    read().catch(() => undefined);
    return () => stop.abort();
  }, [eventId, token, session.role]);
  return names;
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
      <span class="soft">{reasonText(row.reason, timeZone)}</span>
    </li>
  );
}
