import { v4 as newId } from 'uuid';
import { useSignal } from '@preact/signals';
import { serverNow } from '../state/clock.ts';
import { COMMON, type CommonCondition, timesFor, usualDue } from '../state/condition-due.ts';
import { changeWorksheet, type Station } from '../state/station.ts';
import type { ConditionEntry, Worksheet } from '../state/worksheet.ts';
import { focusOn, focusWhenDrawn } from '../state/feed.ts';
import type { Blocker } from '../state/blockers.ts';
import { text } from '../text.ts';
import { ConditionRow } from './condition-row.tsx';

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
