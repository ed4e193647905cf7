import { useEffect, useRef, useState } from 'preact/hooks';
import { words } from '../../shared/words.ts';

interface ConfirmProps {
  label: string;
  /** what will happen, asked back */
  question: string;
  onConfirm(): void;
}

/** A button that asks back in its place before it does what cannot be undone. */
export function Confirm({ label, question, onConfirm }: ConfirmProps) {
  const [asking, setAsking] = useState(false);
  const yes = useRef<HTMLButtonElement>(null);
  useEffect(() => {
    if (asking) yes.current?.focus();
  }, [asking]);
  if (!asking) {
    return (
      <button type="button" onClick={() => setAsking(true)}>
        {label}
      </button>
    );
  }
  return (
    <div class="row" role="group" aria-label={question}>
      <span>{question}</span>
      <button
        ref={yes}
        type="button"
        class="bad"
        onClick={() => {
          setAsking(false);
          onConfirm();
        }}
      >
        {label}
      </button>
      <button type="button" onClick={() => setAsking(false)}>
        {words.t('cancel')}
      </button>
    </div>
  );
}
