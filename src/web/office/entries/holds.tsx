import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { type EntryView, liftHold, placeHold } from '../../api/operations.ts';
import type { Desk } from '../parts/desk.ts';
import { Check, Input } from '../parts/field.tsx';
import { Form } from '../parts/form.tsx';
import { Panel } from '../parts/panel.tsx';
import { say } from '../parts/say.ts';
import { dayAndTime } from '../parts/time.ts';
import { text } from '../text.ts';

const { t } = text;

interface HoldsProps {
  entry: EntryView;
  desk: Desk;
  reload(): void;
}

/** Holds that stand, each to be lifted with a reason, and a new one. */
export function Holds({ entry, desk, reload }: HoldsProps) {
  const [reason, setReason] = useState('');
  const { entryId, holds } = entry;
  return (
    <Panel title={t('holds.title', { count: holds.length })}>
      {holds.map((hold) => (
        <Standing key={hold.holdId} hold={hold} desk={desk} reload={reload} />
      ))}
      <Form
        label={t('hold.place')}
        submit={t('hold.place')}
        tone="bad"
        onSend={async () => {
          await call(placeHold, { params: { entryId }, body: { reason } }, { token: desk.token });
          say(t('hold.placed', { number: entry.carNumber }));
          setReason('');
          reload();
        }}
      >
        <Input
          label={t('hold.reason')}
          hint={t('hold.reasonHint')}
          pointer="/reason"
          value={reason}
          onValue={setReason}
        />
      </Form>
    </Panel>
  );
}

function Standing({ hold, desk, reload }: { hold: EntryView['holds'][number]; desk: Desk; reload(): void }) {
  const [lifting, setLifting] = useState(false);
  const [reason, setReason] = useState('');
  const [requireReinspection, setRequireReinspection] = useState(true);
  const { holdId, placedAt, placedBy } = hold;
  return (
    <div class="notice bad stack">
      <p>
        <strong>{hold.reason}</strong>{' '}
        <span class="soft">{t('byAt', { who: placedBy, time: dayAndTime(placedAt, desk.timeZone) })}</span>
      </p>
      {!lifting && (
        <div class="row">
          <button type="button" onClick={() => setLifting(true)}>
            {t('hold.lift')}
          </button>
        </div>
      )}
      {lifting && (
        <Form
          label={t('hold.lift')}
          submit={t('hold.lift')}
          onCancel={() => setLifting(false)}
          onSend={async () => {
            const body = { reason, requireReinspection };
            await call(liftHold, { params: { holdId }, body }, { token: desk.token });
            say(t('hold.lifted'));
            reload();
          }}
        >
          <Input label={t('hold.liftReason')} pointer="/reason" value={reason} onValue={setReason} />
          <Check label={t('hold.reinspect')} checked={requireReinspection} onChecked={setRequireReinspection} />
        </Form>
      )}
    </div>
  );
}
