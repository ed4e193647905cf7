import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { getHistory, type HistoryView } from '../../api/operations.ts';
import type { Desk } from '../parts/desk.ts';
import { Loaded } from '../parts/loaded.tsx';
import { Panel } from '../parts/panel.tsx';
import { Table } from '../parts/table.tsx';
import { dayAndTime } from '../parts/time.ts';
import { useLoad } from '../parts/use-load.ts';
import { text } from '../text.ts';
import { actionInWords } from './action-in-words.ts';

const { t } = text;

interface HistoryProps {
  entryId: string;
  desk: Desk;
  /** changes when the entry was read again */
  at: number;
}

/** What happened to an entry, on demand, and whether its chain of hashes holds. */
export function History({ entryId, desk, at }: HistoryProps) {
  const [open, setOpen] = useState(false);
  return (
    <Panel title={t('history.title')}>
      <div class="row">
        <button type="button" aria-expanded={open} onClick={() => setOpen(!open)}>
          {open ? t('history.hide') : t('history.show')}
        </button>
      </div>
      {open && <Rows {...{ entryId, desk, at }} />}
    </Panel>
  );
}

function Rows({ entryId, desk, at }: HistoryProps) {
  const load = useLoad<HistoryView>(`history ${entryId} ${at}`, async (signal) => {
    const { body } = await call(getHistory, { params: { entryId } }, { token: desk.token, signal });
    return body;
  });
  return (
    <Loaded of={load}>
      {({ history, intact, brokenAt }) => (
        <>
          {intact ? (
            <p>{t('history.intact')}</p>
          ) : (
            <p class="notice bad">{t('history.broken', { row: brokenAt ?? 0 })}</p>
          )}
          <Table
            caption={t('history.title')}
            head={[t('history.time'), t('history.what'), t('history.who'), t('history.why')]}
          >
            {history.map((row) => (
              <tr key={row.seq}>
                <td>{dayAndTime(row.at, desk.timeZone)}</td>
                <th scope="row">{actionInWords(row.action)}</th>
                <td>{row.actor.name}</td>
                <td>{reasonIn(row.data)}</td>
              </tr>
            ))}
          </Table>
        </>
      )}
    </Loaded>
  );
}

/** The words that somebody gave for it. */
function reasonIn(data: Readonly<Record<string, unknown>>): string {
  const words = ['reason', 'note', 'text', 'decision', 'verdict'].map((name) => data[name]);
  return words.filter((word) => typeof word === 'string').join(', ');
}
