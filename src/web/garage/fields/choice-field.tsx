import { useGarage } from '../context.ts';
import { setCell } from '../desk.ts';
import { faultAttributes } from './field-state.tsx';
import type { FieldProps } from './place-field.tsx';

interface Option {
  value: string | boolean;
  label: string;
}

/** One of several, as large radio buttons; the whole button can be hit. */
export function ChoiceField({ place, id, name, hasFault, options }: FieldProps & { options: readonly Option[] }) {
  const { desk, sync } = useGarage();
  const chosen = desk.cells.value[place.cell];
  return (
    <div
      id={id}
      role="radiogroup"
      tabIndex={-1}
      class={options.length > 6 ? 'options many' : 'options'}
      aria-label={name}
      {...faultAttributes(hasFault, id)}
    >
      {options.map(({ value, label }) => (
        <label key={String(value)} class="option">
          <input
            type="radio"
            name={id}
            checked={chosen === value}
            disabled={!desk.open.value}
            onChange={() => {
              setCell(desk, place.cell, value);
              sync.typed();
            }}
          />
          <span>{label}</span>
        </label>
      ))}
    </div>
  );
}
