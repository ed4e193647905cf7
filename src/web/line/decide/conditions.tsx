import { v4 as newId } from 'uuid';
import { useSignal } from '@preact/signals';
import { dayAndTime, serverNow } from '../format.ts';
import { COMMON, type CommonCondition, timesFor, usualDue, dueFor, type KnownTimes } from '../state/condition-due.ts';
import { changeWorksheet, type Station } from '../state/station.ts';
import type { ConditionEntry, Worksheet } from '../state/worksheet.ts';
import { focusOn, focusWhenDrawn } from '../state/feed.ts';
import type { Blocker } from '../state/rejection.ts';
import { text } from '../text.ts';

const { t } = text;

interface Props {
  station: Station;
  worksheet: Worksheet;
  faulty: readonly Blocker[];
}

/** The conditions of an acceptance: from the list of common ones, or in words of one's own. */
export function Conditions({ station, worksheet, faulty }: Props) {
  const chosen = useSignal<CommonCondition>('torque');
  const change = (conditions: readonly ConditionEntry[]) =>
    void changeWorksheet(station, worksheet.claimId, (one) => ({ ...one, conditions, refusal: undefined }));
  // A claim that was kept before timetables were has none.
  const sessions = worksheet.claim.sessions ?? [];
  const { firstSessionAt } = worksheet;
  const times = timesFor({ firstSessionAt, sessions, event: station.event, now: serverNow() });
  const add = () => {
    const words = chosen.value === 'other' ? '' : t(`condition.${chosen.value}`);
    const id = newId();
    const due = usualDue(chosen.value, times, sessions.length > 0);
    change([...worksheet.conditions, { id, text: words, kind: chosen.value, ...due }]);
    focusWhenDrawn(`condition-${id}`);
  };
  const faultyIds = faulty.flatMap(({ target }) => (target?.kind === 'condition' ? [target.id] : []));
  return (
    <fieldset class="stack">
      <legend>{t('conditions.legend')}</legend>
      {worksheet.conditions.map((condition) => (
        <ConditionRow
          key={condition.id}
          condition={condition}
          times={times}
          timeZone={station.event.timeZone}
          isFaulty={faultyIds.includes(condition.id)}
          onChange={(changed) =>
            change(worksheet.conditions.map((one) => (one.id === condition.id ? { ...one, ...changed } : one)))
          }
          onRemove={() => {
            change(worksheet.conditions.filter((one) => one.id !== condition.id));
            focusOn('condition-add');
          }}
        />
      ))}
      <div class="row by-number">
        <label for="condition-add">{t('conditions.add.label')}</label>
        <select
          id="condition-add"
          value={chosen.value}
          onChange={(event) => {
            chosen.value = COMMON.find((one) => one === event.currentTarget.value) ?? 'other';
          }}
        >
          {COMMON.map((one) => (
            <option key={one} value={one}>
              {t(`condition.${one}`)}
            </option>
          ))}
        </select>
        <button type="button" class="glove" onClick={add}>
          {t('conditions.add')}
        </button>
      </div>
    </fieldset>
  );
}

const KNOWN = ['first-session', 'session-after', 'end-of-day'] as const;

interface ConditionRowProps {
  condition: ConditionEntry;
  times: KnownTimes;
  timeZone: string;
  isFaulty: boolean;
  onChange(change: Partial<ConditionEntry>): void;
  onRemove(): void;
}

/** One condition: what, and by when. */
function ConditionRow({ condition, times, timeZone, isFaulty, onChange, onRemove }: ConditionRowProps) {
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
function DueFields({ condition, times, timeZone, onChange }: Omit<ConditionRowProps, 'isFaulty' | 'onRemove'>) {
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
