import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { call } from '../../api/call.ts';
import { getHistory, type HistoryView } from '../../api/operations.ts';
import { words } from '../../shared/text.ts';
import { dayAndTime } from '../format.ts';
import { Modal, whyNot } from '../modal.tsx';
import { ask, type Station } from '../state/station.ts';
import { text } from '../text.ts';

const { t } = text;

/** Shows what happened to a car, on demand. */
export function HistoryButton({ station, entryId, number }: { station: Station; entryId: string; number: string }) {
  const open = useSignal(false);
  const set = (to: boolean) => () => {
    open.value = to;
  };
  return (
    <>
      <button type="button" class="glove" onClick={set(true)}>
        {t('history.show')}
      </button>
      {open.value && <HistoryDialog station={station} entryId={entryId} number={number} onClose={set(false)} />}
    </>
  );
}

interface Props {
  station: Station;
  entryId: string;
  number: string;
  onClose(): void;
}

/** What happened to a car, the newest first. */
function HistoryDialog({ station, entryId, number, onClose }: Props) {
  const rows = useSignal<HistoryView['history'] | undefined>(undefined);
  const why = useSignal<string | undefined>(undefined);
  useEffect(() => {
    const { token } = station.session;
    void ask(station, () => call(getHistory, { params: { entryId } }, { token })).then((done) => {
      if (done.ok) rows.value = done.value.body.history.toReversed();
      else why.value = whyNot(done.why);
    });
  }, [station, entryId]);
  return (
    <Modal title={t('history.title', { number })} onClose={onClose}>
      <p role="status">{why.value ?? (rows.value === undefined ? words.t('loading') : '')}</p>
      <ol class="history" reversed>
        {rows.value?.map(({ seq, at, action, actor }) => (
          <li key={seq}>
            <strong>{actionWords(action)}</strong>
            <br />
            <span class="number">{dayAndTime(at, station.event.timeZone)}</span> · {actor.name}
          </li>
        ))}
      </ol>
      <button type="button" class="glove" onClick={onClose}>
        {words.t('close')}
      </button>
    </Modal>
  );
}

/** An action without a text of its own is shown as the server names it. */
function actionWords(action: string): string {
  const shown = t(`action.${action}` as 'action.entry.created');
  return shown.startsWith('action.') ? action : shown;
}
