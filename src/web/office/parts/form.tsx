import { type ComponentChildren, createContext, type JSX } from 'preact';
import { useContext, useEffect, useId, useRef, useState } from 'preact/hooks';
import { words } from '../../shared/text.ts';
import { faultsAt, type Trouble, TroubleBox, troubleOf } from './panel.tsx';

const TroubleContext = createContext<Trouble | undefined>(undefined);

/** What the server refused of the form that a field is in. */
export const useTrouble = (): Trouble | undefined => useContext(TroubleContext);

interface FormProps {
  /** name of the form for screen readers */
  label: string;
  /** text of the button that sends it */
  submit: string;
  tone?: 'primary' | 'bad' | 'good';
  /** sends it; what it throws is shown, and nothing typed is lost */
  onSend(): Promise<void>;
  onCancel?: (() => void) | undefined;
  /** told of a refusal, for those that offer more than to try again */
  onTrouble?: (trouble: Trouble | undefined) => void;
  disabled?: boolean;
  children: ComponentChildren;
}

/** A form that sends itself once at a time and shows what the server refused beside its fields. */
export function Form({
  label,
  submit,
  tone = 'primary',
  onSend,
  onCancel,
  onTrouble,
  disabled = false,
  children,
}: FormProps) {
  const [busy, setBusy] = useState(false);
  const [trouble, setTrouble] = useState<Trouble>();
  const form = useRef<HTMLFormElement>(null);
  useEffect(() => {
    onTrouble?.(trouble);
    if (trouble === undefined) return;
    const at = form.current?.querySelector<HTMLElement>('[aria-invalid="true"]');
    (at ?? form.current?.querySelector<HTMLElement>('[role="alert"]'))?.focus();
  }, [trouble]);
  const send = async (event: Event): Promise<void> => {
    event.preventDefault();
    if (busy || disabled) return;
    setBusy(true);
    setTrouble(undefined);
    try {
      await onSend();
    } catch (error) {
      setTrouble(troubleOf(error));
    } finally {
      setBusy(false);
    }
  };
  return (
    <form ref={form} class="stack" aria-label={label} noValidate onSubmit={(event) => void send(event)}>
      <TroubleContext.Provider value={trouble}>{children}</TroubleContext.Provider>
      {trouble !== undefined && <TroubleBox trouble={trouble} />}
      <div class="row">
        <button type="submit" class={tone} aria-disabled={busy || disabled}>
          {busy ? words.t('loading') : submit}
        </button>
        {onCancel !== undefined && (
          <button type="button" onClick={onCancel}>
            {words.t('cancel')}
          </button>
        )}
      </div>
    </form>
  );
}

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
  inputMode?: 'numeric' | 'decimal' | 'text';
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
