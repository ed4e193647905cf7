import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { type EntryView, type ErasedEntry, eraseEntry, exportPersonalData } from '../../api/operations.ts';
import { locale } from '../../shared/times.ts';
import { offerFile } from '../../shared/offer-file.ts';
import { defineText } from '../../shared/text.ts';
import { Check, Form, Input } from '../parts/form.tsx';
import { Link } from '../parts/link.tsx';
import { type OfficeContext, say } from '../parts/office-context.ts';
import { Panel } from '../parts/panel.tsx';

/** Texts about personal data, loaded with the part itself. */
const personalText = defineText({ en: () => import('./text/en.json'), de: () => import('./text/de.json') });

const { t } = personalText;
export { personalText as text };

/** Where free text of an entry can stand. */
const PLACES = ['history', 'answers', 'log', 'vehicle', 'sign-offs', 'conditions', 'holds', 'concessions'] as const;
const DAY_MS = 86_400_000;

interface PersonalProps {
  entry: EntryView;
  office: OfficeContext;
  reload(): void;
}

/** What is kept about the people of an entry: all of it as a file, until when, and how it goes. */
export function Personal({ entry, office, reload }: PersonalProps) {
  const [erased, setErased] = useState<ErasedEntry>();
  const { endsOn, retentionDays } = office.event;
  const from = new Date(Date.parse(endsOn) + (retentionDays + 1) * DAY_MS);
  return (
    <Panel title={t('title')}>
      <p>
        {t('kept', {
          day: from.toLocaleDateString(locale(), { dateStyle: 'long', timeZone: 'UTC' }),
          days: retentionDays,
        })}
      </p>
      <Form
        label={t('export')}
        submit={t('export.send')}
        onSend={async () => {
          const input = { params: { entryId: entry.entryId } };
          const { body } = await call(exportPersonalData, input, { token: office.token, timeoutMs: 60_000 });
          offerFile(
            new Blob([JSON.stringify(body, null, 2)], { type: 'application/json' }),
            `entry-${entry.carNumber}.json`,
          );
        }}
      >
        <p class="soft">{t('export.why')}</p>
      </Form>
      <Erase
        {...{ entry, office }}
        onErased={(done) => {
          setErased(done);
          reload();
        }}
      />
      {erased !== undefined && <Erased erased={erased} />}
    </Panel>
  );
}

function Erase({ entry, office, onErased }: Omit<PersonalProps, 'reload'> & { onErased(done: ErasedEntry): void }) {
  const [open, setOpen] = useState(false);
  const [reason, setReason] = useState('');
  const [force, setForce] = useState(false);
  const withdrawn = entry.clearance.status === 'withdrawn';
  if (!open) {
    return (
      <div class="row">
        <button type="button" onClick={() => setOpen(true)}>
          {t('erase.open')}
        </button>
      </div>
    );
  }
  const send = async (): Promise<void> => {
    const body = { reason: reason.trim(), ...(force && withdrawn ? { force } : {}) };
    const input = { params: { entryId: entry.entryId }, body };
    const { body: done } = await call(eraseEntry, input, { token: office.token, timeoutMs: 60_000 });
    say(t('erase.done', { number: entry.carNumber }));
    setOpen(false);
    onErased(done);
  };
  return (
    <Form label={t('erase')} submit={t('erase.send')} tone="bad" onSend={send} onCancel={() => setOpen(false)}>
      <p class="notice look">{t('erase.caution')}</p>
      <Input
        label={t('erase.reason')}
        hint={t('erase.reasonHint')}
        pointer="/reason"
        value={reason}
        onValue={setReason}
      />
      {withdrawn && <Check label={t('erase.force')} checked={force} onChecked={setForce} />}
    </Form>
  );
}

/** What an erasure found that it may not change, for a person to look at. */
function Erased({ erased }: { erased: ErasedEntry }) {
  const { photosRemoved, mentions, otherEntries } = erased;
  return (
    <div class="notice stack" data-erased role="status">
      <p>{t('erased', { count: photosRemoved })}</p>
      {mentions.length > 0 && (
        <>
          <p>{t('mentions')}</p>
          <ul>
            {mentions.map(({ place, count }) => (
              <li key={place}>{t(`place.${PLACES.find((one) => one === place) ?? 'history'}`, { count })}</li>
            ))}
          </ul>
        </>
      )}
      {otherEntries.length > 0 && (
        <>
          <p>{t('others')}</p>
          <ul>
            {otherEntries.map((entryId, index) => (
              <li key={entryId}>
                <Link to={{ section: 'entries', entry: entryId }}>{t('other', { number: index + 1 })}</Link>
              </li>
            ))}
          </ul>
        </>
      )}
    </div>
  );
}
