import type { TargetedInputEvent } from 'preact';
import { useGarage } from '../context.ts';
import { setCell } from '../desk.ts';
import { faultAttributes } from './field-state.tsx';
import type { FieldProps } from './place-field.tsx';

/** A line of text, or a day. */
export function TextField(props: FieldProps & { kind: 'text' | 'date'; maxLength?: number; digits?: boolean }) {
  const { place, id, name, hasFault, kind, maxLength, digits } = props;
  const { desk, sync } = useGarage();
  const leaf = desk.cells.value[place.cell];
  const shared = {
    id,
    value: typeof leaf === 'string' ? leaf : '',
    autoComplete: 'off',
    enterKeyHint: 'next',
    disabled: !desk.open.value,
    'aria-label': name,
    ...faultAttributes(hasFault, id),
    onInput: ({ currentTarget: { value } }: TargetedInputEvent<HTMLInputElement>): void => {
      setCell(desk, place.cell, value.trim() === '' ? undefined : value);
      sync.typed();
    },
  } as const;
  if (kind === 'date') return <input type="date" {...shared} />;
  return (
    <input type="text" inputMode={digits === true ? 'numeric' : 'text'} maxLength={maxLength ?? 200} {...shared} />
  );
}
