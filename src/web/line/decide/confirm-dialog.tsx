import { useSignal } from '@preact/signals';
import { words } from '../../shared/words.ts';
import { Modal } from '../modal.tsx';
import type { Desk } from '../state/desk.ts';
import type { Decision, Draft } from '../state/draft.ts';
import type { Hindrance } from '../state/hindrances.ts';
import { decide } from '../state/sign-off.ts';
import { countsOf } from '../state/summary.ts';
import { text } from '../text.ts';
import { Hinders } from './hinders.tsx';

const { t } = text;

interface Props {
  desk: Desk;
  draft: Draft;
  decision: Decision;
  /** what the server will probably refuse */
  warnings: readonly Hindrance[];
  onClose(): void;
}

/** What will be sent, once more, and what still stands in the way. */
export function ConfirmDialog({ desk, draft, decision, warnings, onClose }: Props) {
  const sent = useSignal(false);
  const number = draft.claim.carNumber;
  const send = () => {
    if (sent.value) return;
    sent.value = true;
    void decide(desk, draft.claimId, decision).finally(onClose);
  };
  return (
    <Modal title={t(`confirm.${decision}`, { number })} onClose={onClose}>
      <p>{draft.claim.vehicle}</p>
      <p class="number">{t('confirm.counts', { ...countsOf(draft) })}</p>
      {decision === 'accept-with-conditions' && (
        <ul>
          {draft.conditions.map((condition) => (
            <li key={condition.id}>{condition.text}</li>
          ))}
        </ul>
      )}
      {decision === 'refuse' ? <p>{draft.note}</p> : <p>{t('summary.sticker', { number: draft.sticker })}</p>}
      {warnings.length > 0 && <Hinders title={t('confirm.hinders')} found={warnings} onGo={onClose} />}
      <div class="decisions">
        <button type="button" class="glove" onClick={onClose}>
          {words.t('cancel')}
        </button>
        <button type="button" class="glove primary" onClick={send} aria-disabled={sent.value}>
          {t('confirm.send')}
        </button>
      </div>
    </Modal>
  );
}
