import { useState } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { approveConcession, type Concession, revokeConcession } from '../../api/operations.ts';
import { Fact } from '../overview/forecast.tsx';
import type { Desk } from '../parts/desk.ts';
import { Input } from '../parts/field.tsx';
import { Form } from '../parts/form.tsx';
import { say } from '../parts/say.ts';
import { dayAndTime } from '../parts/time.ts';
import { text } from '../text.ts';

const { t } = text;

interface CardProps {
  concession: Concession;
  desk: Desk;
  reload(): void;
}

export function ConcessionCard({ concession, desk, reload }: CardProps) {
  const { ruleId, reason, condition, state, expiresAt, grantedBy, grantedAt, approvedBy, revokedBy } = concession;
  const at = (instant: string): string => dayAndTime(instant, desk.timeZone);
  return (
    <div class={`notice stack ${state === 'awaiting-approval' ? 'look' : ''}`} data-state={state}>
      <p>
        <strong>{ruleId}</strong>: {t(`concession.${state}`)}
      </p>
      <p>{reason}</p>
      <dl class="facts">
        {condition !== undefined && <Fact name={t('concession.condition')} value={condition} />}
        <Fact name={t('concession.expires')} value={at(expiresAt)} />
        <Fact name={t('concession.grantedBy')} value={t('byAt', { who: grantedBy, time: at(grantedAt) })} />
        {approvedBy !== undefined && <Fact name={t('concession.approvedBy')} value={approvedBy} />}
        {revokedBy !== undefined && (
          <Fact name={t('concession.revokedBy')} value={`${revokedBy}: ${concession.revokeReason ?? ''}`} />
        )}
      </dl>
      {state === 'awaiting-approval' && <Approve {...{ concession, desk, reload }} />}
      {(state === 'awaiting-approval' || state === 'in-force') && <Revoke {...{ concession, desk, reload }} />}
    </div>
  );
}

/** Whoever granted it is refused by the server and told why. */
function Approve({ concession: { concessionId }, desk, reload }: CardProps) {
  return (
    <Form
      label={t('concession.approve')}
      submit={t('concession.approve')}
      onSend={async () => {
        await call(approveConcession, { params: { concessionId } }, { token: desk.token });
        say(t('concession.approved'));
        reload();
      }}
    >
      <p>{t('concession.secondPerson')}</p>
    </Form>
  );
}

function Revoke({ concession: { concessionId }, desk, reload }: CardProps) {
  const [open, setOpen] = useState(false);
  const [reason, setReason] = useState('');
  if (!open) {
    return (
      <div class="row">
        <button type="button" onClick={() => setOpen(true)}>
          {t('concession.revoke')}
        </button>
      </div>
    );
  }
  return (
    <Form
      label={t('concession.revoke')}
      submit={t('concession.revoke')}
      tone="bad"
      onCancel={() => setOpen(false)}
      onSend={async () => {
        await call(revokeConcession, { params: { concessionId }, body: { reason } }, { token: desk.token });
        say(t('concession.taken'));
        reload();
      }}
    >
      <Input label={t('concession.revokeReason')} pointer="/reason" value={reason} onValue={setReason} />
    </Form>
  );
}
