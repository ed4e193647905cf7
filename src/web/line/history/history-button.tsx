import { useSignal } from '@preact/signals';
import type { Desk } from '../state/desk.ts';
import { text } from '../text.ts';
import { HistoryDialog } from './history-dialog.tsx';

const { t } = text;

/** Shows what happened to a car, on demand. */
export function HistoryButton({ desk, entryId, number }: { desk: Desk; entryId: string; number: string }) {
  const open = useSignal(false);
  const set = (to: boolean) => () => {
    open.value = to;
  };
  return (
    <>
      <button type="button" class="glove" onClick={set(true)}>
        {t('history.show')}
      </button>
      {open.value && <HistoryDialog desk={desk} entryId={entryId} number={number} onClose={set(false)} />}
    </>
  );
}
