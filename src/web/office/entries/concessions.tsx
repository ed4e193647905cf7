import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { type Concession, type EntryView, listConcessions } from '../../api/operations.ts';
import type { Desk } from '../parts/desk.ts';
import { Loaded } from '../parts/loaded.tsx';
import { Panel } from '../parts/panel.tsx';
import { useLoad } from '../parts/use-load.ts';
import { text } from '../text.ts';
import { ConcessionCard } from './concession-card.tsx';
import { GrantConcession } from './grant-concession.tsx';

const { t } = text;

interface ConcessionsProps {
  entry: EntryView;
  desk: Desk;
  reload(): void;
  at: number;
}

/** Exceptions of an entry, whatever has become of them; the chief grants, a second person approves, either takes back. */
export function Concessions({ entry, desk, reload, at }: ConcessionsProps) {
  const { entryId } = entry;
  const [granting, setGranting] = useState(false);
  const load = useLoad<readonly Concession[]>(`concessions ${entryId} ${at}`, async (signal) => {
    const { body } = await call(listConcessions, { params: { entryId } }, { token: desk.token, signal });
    return body.concessions;
  });
  const mayGrant = desk.session.role === 'chief' && entry.clearance.status !== 'withdrawn';
  return (
    <Panel title={t('concessions.title')}>
      <Loaded of={load}>
        {(list) => (
          <>
            {list.length === 0 && <p>{t('concessions.none')}</p>}
            {list.map((concession) => (
              <ConcessionCard key={concession.concessionId} concession={concession} desk={desk} reload={reload} />
            ))}
          </>
        )}
      </Loaded>
      {mayGrant && !granting && (
        <div class="row">
          <button type="button" onClick={() => setGranting(true)}>
            {t('concession.grant')}
          </button>
        </div>
      )}
      {!mayGrant && <p class="soft">{t('concession.onlyChief')}</p>}
      {granting && (
        <GrantConcession
          {...{ entry, desk }}
          onDone={() => {
            setGranting(false);
            reload();
          }}
          onCancel={() => setGranting(false)}
        />
      )}
    </Panel>
  );
}
