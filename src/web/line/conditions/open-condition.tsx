import { useSignal } from '@preact/signals';
import { text } from '../text.ts';

const { t } = text;

interface Props {
  id: string;
  asked: string;
  due: string | undefined;
  number: string;
  onDone(note: string): Promise<void>;
}

/** One open condition, with what was found when it is done. */
export function OpenCondition({ id, asked, due, number, onDone }: Props) {
  const note = useSignal('');
  const busy = useSignal(false);
  const done = async () => {
    if (busy.value) return;
    busy.value = true;
    await onDone(note.value.trim());
    busy.value = false;
  };
  return (
    <div class="stack condition">
      <p>
        <strong>{asked}</strong> {due}
      </p>
      <div>
        <label for={`done-${id}`}>{t('open.note')}</label>
        <input
          id={`done-${id}`}
          maxLength={500}
          value={note.value}
          onInput={(event) => {
            note.value = event.currentTarget.value;
          }}
        />
      </div>
      <button
        type="button"
        class="glove"
        aria-label={t('open.done.for', { number, condition: asked })}
        aria-disabled={busy.value}
        onClick={() => void done()}
      >
        {t('open.done')}
      </button>
    </div>
  );
}
