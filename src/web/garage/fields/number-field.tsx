import { useState } from 'preact/hooks';
import { convert, roundTo, type Unit } from '../../../domain/quantity.ts';
import { currentLanguage } from '../../shared/text.ts';
import { convertShown, parseNumber, showNumber, shownUnit, suffixOf } from '../../shared/units.ts';
import type { Leaf } from '../cells.ts';
import { useGarage } from '../context.ts';
import { setCell, setUnread } from '../desk.ts';
import { unitWord } from '../unit-word.ts';
import { faultAttributes } from './field-state.tsx';
import type { FieldProps } from './place-field.tsx';

interface NumberType {
  unit: Unit;
  max: number;
  decimals: number;
}

/** The number to show in a unit, for an answer as it is kept. */
function shownValue(leaf: Leaf | undefined, type: NumberType, unit: Unit): number | undefined {
  if (typeof leaf === 'number') return convertShown(leaf, type.unit, unit, type);
  if (typeof leaf !== 'object' || Array.isArray(leaf)) return undefined;
  const { value, unit: from } = leaf as { value: number; unit: Unit };
  if (from === unit) return value;
  const kept = convert(value, from, type.unit);
  return kept === undefined ? value : convertShown(roundTo(kept, type.decimals), type.unit, unit, type);
}

/** A number with its unit beside it, in the unit of this device. Point and comma are the same. */
export function NumberField({ place, id, name, hasFault, type }: FieldProps & { type: NumberType }) {
  const { desk, sync } = useGarage();
  const [typed, setTyped] = useState<string | undefined>(undefined);
  const unit = shownUnit(type.unit, type.max);
  const value = shownValue(desk.cells.value[place.cell], type, unit);
  const kept = desk.unread.value[place.cell] ?? (value === undefined ? '' : showNumber(value, currentLanguage()));
  const take = (said: string): void => {
    setTyped(said);
    const number = parseNumber(said);
    if (said.trim() === '') setCell(desk, place.cell, undefined);
    else if (number === undefined) setUnread(desk, place.cell, said);
    else setCell(desk, place.cell, unit === type.unit ? number : { value: number, unit });
    sync.typed();
  };
  const sign = unitWord(unit) ?? suffixOf(unit).trim();
  return (
    <div class="with-unit">
      <input
        id={id}
        type="text"
        inputMode="decimal"
        autoComplete="off"
        enterKeyHint="next"
        class="number"
        value={typed ?? kept}
        disabled={!desk.open.value}
        aria-label={sign === '' ? name : `${name}, ${sign}`}
        {...faultAttributes(hasFault, id)}
        onInput={(event) => take(event.currentTarget.value)}
        onBlur={() => setTyped(undefined)}
      />
      {sign !== '' && (
        <span class="unit" aria-hidden="true">
          {sign}
        </span>
      )}
    </div>
  );
}
