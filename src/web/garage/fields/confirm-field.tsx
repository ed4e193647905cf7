import { useGarage } from '../context.ts';
import { setCell } from '../desk.ts';
import { text } from '../text.ts';
import { faultAttributes } from './field-state.tsx';
import type { FieldProps } from './place-field.tsx';

/** A confirmation. Taking it back leaves the question unanswered. */
export function ConfirmField({ place, id, name, hasFault }: FieldProps) {
  const { desk, sync } = useGarage();
  return (
    <label class="option confirm">
      <input
        id={id}
        type="checkbox"
        checked={desk.cells.value[place.cell] === true}
        disabled={!desk.open.value}
        aria-label={`${name}: ${text.t('answer.confirm')}`}
        {...faultAttributes(hasFault, id)}
        onChange={({ currentTarget: { checked } }) => {
          setCell(desk, place.cell, checked ? true : undefined);
          sync.typed();
        }}
      />
      <span>{text.t('answer.confirm')}</span>
    </label>
  );
}
