import { useGarage } from '../context.ts';
import { setCell } from '../desk.ts';
import { pretty } from '../say.ts';
import { text } from '../text.ts';
import { faultAttributes } from './field-state.tsx';
import type { FieldProps } from './place-field.tsx';

const { t } = text;

/** Any of several. "None of these" is an answer too: an empty list. */
export function ChoicesField({ place, id, name, hasFault, options }: FieldProps & { options: readonly string[] }) {
  const { desk, sync } = useGarage();
  const leaf = desk.cells.value[place.cell];
  const chosen: readonly string[] = Array.isArray(leaf) ? leaf : [];
  const set = (next: readonly string[] | undefined): void => {
    setCell(desk, place.cell, next);
    sync.typed();
  };
  return (
    <div id={id} role="group" tabIndex={-1} class="options many" aria-label={name} {...faultAttributes(hasFault, id)}>
      {options.map((option) => (
        <label key={option} class="option">
          <input
            type="checkbox"
            checked={chosen.includes(option)}
            disabled={!desk.open.value}
            onChange={({ currentTarget: { checked } }) =>
              set(options.filter((one) => (one === option ? checked : chosen.includes(one))))
            }
          />
          <span>{pretty(option)}</span>
        </label>
      ))}
      <label class="option">
        <input
          type="checkbox"
          checked={Array.isArray(leaf) && leaf.length === 0}
          disabled={!desk.open.value}
          onChange={({ currentTarget: { checked } }) => set(checked ? [] : undefined)}
        />
        <span>{t('answer.none-of-these')}</span>
      </label>
    </div>
  );
}
