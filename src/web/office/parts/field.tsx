import type { JSX } from 'preact';
import { useId } from 'preact/hooks';
import { useTrouble } from './form.tsx';
import { faultsAt } from './trouble.ts';

interface FieldProps {
  label: string;
  hint?: string | undefined;
  /** JSON Pointer of the value in what is sent: faults named there are shown here */
  pointer?: string;
  value: string;
  onValue(value: string): void;
}

interface Bound {
  id: string;
  'aria-invalid': boolean;
  'aria-describedby': string | undefined;
}

function Framed({
  label,
  hint,
  pointer,
  children,
}: Pick<FieldProps, 'label' | 'hint' | 'pointer'> & { children(bound: Bound): JSX.Element }) {
  const id = useId();
  const trouble = useTrouble();
  const faults = pointer === undefined ? [] : faultsAt(trouble, pointer);
  const described = [hint === undefined ? '' : `${id}-hint`, faults.length === 0 ? '' : `${id}-fault`].join(' ').trim();
  return (
    <div class="field">
      <label for={id}>{label}</label>
      {hint !== undefined && (
        <span class="soft" id={`${id}-hint`}>
          {hint}
        </span>
      )}
      {children({
        id,
        'aria-invalid': faults.length > 0,
        'aria-describedby': described || undefined,
      })}
      {faults.length > 0 && (
        <span class="fault" id={`${id}-fault`}>
          {faults.map(({ detail }) => detail).join(' ')}
        </span>
      )}
    </div>
  );
}

type InputProps = FieldProps & {
  type?: 'text' | 'email' | 'tel' | 'number' | 'date' | 'datetime-local' | 'search';
  inputMode?: 'numeric' | 'text';
};

export function Input({ value, onValue, type = 'text', inputMode, ...frame }: InputProps) {
  return (
    <Framed {...frame}>
      {(bound) => (
        <input
          {...bound}
          // The types of preact tell the kinds of input apart; ours all take the same attributes.
          {...({ type } as { type: 'text' })}
          {...(inputMode === undefined ? {} : { inputMode })}
          autocomplete="off"
          value={value}
          onInput={(event) => onValue(event.currentTarget.value)}
        />
      )}
    </Framed>
  );
}

export function Area({ value, onValue, ...frame }: FieldProps) {
  return (
    <Framed {...frame}>
      {(bound) => (
        <textarea {...bound} rows={3} value={value} onInput={(event) => onValue(event.currentTarget.value)} />
      )}
    </Framed>
  );
}

type SelectProps = FieldProps & { options: readonly (readonly [value: string, label: string])[] };

export function Select({ value, onValue, options, ...frame }: SelectProps) {
  return (
    <Framed {...frame}>
      {(bound) => (
        <select {...bound} value={value} onChange={(event) => onValue(event.currentTarget.value)}>
          {options.map(([option, name]) => (
            <option key={option} value={option}>
              {name}
            </option>
          ))}
        </select>
      )}
    </Framed>
  );
}

interface CheckProps {
  label: string;
  checked: boolean;
  onChecked(checked: boolean): void;
}

export function Check({ label, checked, onChecked }: CheckProps) {
  return (
    <label class="check">
      <input type="checkbox" checked={checked} onChange={(event) => onChecked(event.currentTarget.checked)} />
      <span>{label}</span>
    </label>
  );
}
