import { asUnit, suffixOf } from '../../shared/units.ts';
import type { FieldName, Typed } from './entries.ts';

/** What every group of fields of the page works with. */
export interface Fields {
  typed: Typed;
  set(change: Partial<Typed>): void;
  unreadable: readonly FieldName[];
}

interface NumberProps {
  name: FieldName;
  label: string;
  unit: string;
  value: string;
  unreadable: readonly FieldName[];
  onType(value: string): void;
}

/** A number as people type it, with the unit beside it. */
export function NumberField({ name, label, unit, value, unreadable, onType }: NumberProps) {
  const id = `session-${name}`;
  return (
    <div class="field">
      <label for={id}>{label}</label>
      <div class="with-unit">
        <input
          id={id}
          type="text"
          inputMode="decimal"
          autoComplete="off"
          enterKeyHint="next"
          class="number"
          value={value}
          aria-invalid={unreadable.includes(name) ? 'true' : undefined}
          onInput={({ currentTarget }) => onType(currentTarget.value)}
        />
        <span class="unit">{unit}</span>
      </div>
    </div>
  );
}

/** A unit as it stands beside a field. */
export const signOf = (unit: string): string => {
  const known = asUnit(unit);
  return known === undefined ? unit : suffixOf(known).trim();
};
