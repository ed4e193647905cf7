import type { ConditionEntry } from '../state/draft.ts';
import { text } from '../text.ts';

const { t } = text;

interface Props {
  condition: ConditionEntry;
  /** when the run group first goes out, in words; absent when that is over or not known */
  firstSession: string | undefined;
  isFaulty: boolean;
  onChange(change: Partial<ConditionEntry>): void;
  onRemove(): void;
}

/** One condition: what, and by when. */
export function ConditionRow({ condition, firstSession, isFaulty, onChange, onRemove }: Props) {
  const { id, due } = condition;
  const faultId = `condition-${id}-fault`;
  return (
    <div class="panel stack">
      <div>
        <label for={`condition-${id}`}>{t('conditions.text')}</label>
        <input
          id={`condition-${id}`}
          maxLength={200}
          value={condition.text}
          aria-invalid={isFaulty}
          aria-describedby={isFaulty ? faultId : undefined}
          onInput={(event) => onChange({ text: event.currentTarget.value })}
        />
      </div>
      <div>
        <label for={`due-${id}`}>{t('conditions.due')}</label>
        <select
          id={`due-${id}`}
          value={due}
          onChange={(event) => onChange({ due: event.currentTarget.value as ConditionEntry['due'] })}
        >
          <option value="none">{t('conditions.due.none')}</option>
          {firstSession !== undefined && (
            <option value="first-session">{t('conditions.due.first-session', { time: firstSession })}</option>
          )}
          <option value="time">{t('conditions.due.time')}</option>
        </select>
      </div>
      {due === 'time' && (
        <div>
          <label for={`time-${id}`}>{t('conditions.time')}</label>
          <input
            id={`time-${id}`}
            type="datetime-local"
            value={condition.time ?? ''}
            onInput={(event) => onChange({ time: event.currentTarget.value })}
          />
        </div>
      )}
      {isFaulty && (
        <p class="fault" id={faultId}>
          {condition.text.trim() === ''
            ? t('hinders.condition-text')
            : t('hinders.condition-due', { text: condition.text })}
        </p>
      )}
      <button
        type="button"
        class="glove"
        onClick={onRemove}
        aria-label={t('conditions.remove.for', { text: condition.text })}
      >
        {t('conditions.remove')}
      </button>
    </div>
  );
}
