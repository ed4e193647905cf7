import { useState } from 'preact/hooks';
import type { EntryView } from '../../api/operations.ts';
import { toldOrThrow } from '../../shared/stops.ts';
import type { Desk } from '../parts/desk.ts';
import { Input } from '../parts/field.tsx';
import { Form } from '../parts/form.tsx';
import { Panel } from '../parts/panel.tsx';
import { say } from '../parts/say.ts';
import { given } from '../parts/use-values.ts';
import { text } from '../text.ts';

const { t } = text;

/** Takes an entry out of the event; it cannot be taken back. */
export function Withdraw({ entry, desk, reload }: { entry: EntryView; desk: Desk; reload(): void }) {
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
            const { stops } = desk;
            const told = await toldOrThrow(stops, stops.withdraw({ eventId, entryId, carNumber }, given(reason)));
            say(t(told === 'told' ? 'withdraw.done' : 'withdraw.kept', { number: carNumber }));
            if (told === 'told') reload();
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
