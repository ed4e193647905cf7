import { v4 as newId } from 'uuid';
import { useSignal } from '@preact/signals';
import { dayAndTime } from '../format.ts';
import { serverNow } from '../state/clock.ts';
import { changeDraft, type Desk } from '../state/desk.ts';
import type { ConditionEntry, Draft } from '../state/draft.ts';
import { focusOn, focusWhenDrawn } from '../state/feed.ts';
import type { Hindrance } from '../state/hindrances.ts';
import { text } from '../text.ts';
import { ConditionRow } from './condition-row.tsx';

const { t } = text;
/** What is asked for most often. Common practice, no source. */
const COMMON = ['torque', 'fluid', 'tape', 'pads', 'tyres', 'paper', 'other'] as const;

interface Props {
  desk: Desk;
  draft: Draft;
  faulty: readonly Hindrance[];
}

/** The conditions of an acceptance: from the list of common ones, or in words of one's own. */
export function Conditions({ desk, draft, faulty }: Props) {
  const chosen = useSignal<(typeof COMMON)[number]>('torque');
  const change = (conditions: readonly ConditionEntry[]) =>
    void changeDraft(desk, draft.claimId, (one) => ({ ...one, conditions, refusal: undefined }));
  const add = () => {
    const words = chosen.value === 'other' ? '' : t(`condition.${chosen.value}`);
    const id = newId();
    change([...draft.conditions, { id, text: words, due: 'none' }]);
    focusWhenDrawn(`condition-${id}`);
  };
  const { firstSessionAt } = draft;
  const session = firstSessionAt !== undefined && Date.parse(firstSessionAt) > serverNow() ? firstSessionAt : undefined;
  const faultyIds = faulty.flatMap(({ target }) => (target?.kind === 'condition' ? [target.id] : []));
  return (
    <fieldset class="stack">
      <legend>{t('conditions.legend')}</legend>
      {draft.conditions.map((condition) => (
        <ConditionRow
          key={condition.id}
          condition={condition}
          firstSession={session === undefined ? undefined : dayAndTime(session, desk.event.timeZone)}
          isFaulty={faultyIds.includes(condition.id)}
          onChange={(changed) =>
            change(draft.conditions.map((one) => (one.id === condition.id ? { ...one, ...changed } : one)))
          }
          onRemove={() => {
            change(draft.conditions.filter((one) => one.id !== condition.id));
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
