import { dayAndTime } from '../format.ts';
import { dueFor, type KnownTimes } from '../state/condition-due.ts';
import type { ConditionEntry } from '../state/worksheet.ts';
import { text } from '../text.ts';

const { t } = text;
const KNOWN = ['first-session', 'session-after', 'end-of-day'] as const;

interface Props {
  condition: ConditionEntry;
  times: KnownTimes;
  timeZone: string;
  isFaulty: boolean;
  onChange(change: Partial<ConditionEntry>): void;
  onRemove(): void;
}

/** One condition: what, and by when. */
export function ConditionRow({ condition, times, timeZone, isFaulty, onChange, onRemove }: Props) {
  const { id } = condition;
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
      <DueFields condition={condition} times={times} timeZone={timeZone} onChange={onChange} />
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

/** By when: a session of the group, the end of the day, a time of one's own, or deliberately none. */
function DueFields({ condition, times, timeZone, onChange }: Omit<Props, 'isFaulty' | 'onRemove'>) {
  const { id, due } = condition;
  // What was chosen keeps the instant it had then.
  const at = (one: (typeof KNOWN)[number]) => (one === due ? (condition.at ?? times[one]) : times[one]);
  return (
    <>
      <div>
        <label for={`due-${id}`}>{t('conditions.due')}</label>
        <select
          id={`due-${id}`}
          value={due}
          onChange={(event) => onChange(dueFor(event.currentTarget.value as ConditionEntry['due'], times))}
        >
          {KNOWN.map((one) => {
            const instant = at(one);
            if (instant === undefined) return null;
            return (
              <option key={one} value={one}>
                {t(`conditions.due.${one}`, { time: dayAndTime(instant, timeZone) })}
              </option>
            );
          })}
          <option value="time">{t('conditions.due.time')}</option>
          <option value="none">{t('conditions.due.none')}</option>
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
    </>
  );
}
