import { type ComponentChildren, createContext } from 'preact';
import { useContext, useEffect, useRef, useState } from 'preact/hooks';
import { words } from '../../shared/words.ts';
import { type Trouble, troubleOf } from './trouble.ts';
import { TroubleBox } from './trouble-box.tsx';

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
