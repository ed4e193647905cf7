import { useEffect, useRef } from 'preact/hooks';
import { NumberView } from './answer/answer-view.tsx';
import { text } from './text.ts';

const MOST_CHARACTERS = 4;

/** The letters that numbers in the list have, each as it is written there. */
export function lettersIn(numbers: readonly string[]): string[] {
  return [...new Set(numbers.join('').replace(/\d/g, ''))].sort();
}

/**
 * What stands after one more character. Letters are typed as the event writes them, where it writes them in one way
 * only; what no car number can have is left out.
 */
export function typed(before: string, character: string, letters: readonly string[]): string {
  if (!/^[0-9A-Za-z]$/.test(character) || before.length >= MOST_CHARACTERS) return before;
  if (letters.includes(character)) return before + character;
  const same = letters.find((letter) => letter.toLowerCase() === character.toLowerCase());
  return before + (same ?? character);
}

interface Actions {
  type(character: string): void;
  remove(): void;
  confirm(): void;
  clear(): void;
}

/** What has its own use for Enter. */
const CONTROLS = 'button, a, select, input, summary, textarea';

/** A keyboard works without focus on anything: digits and letters type, Enter asks and goes on, Escape clears. */
export function useKeys(actions: Actions): void {
  const current = useRef(actions);
  current.current = actions;
  useEffect(() => {
    const onKey = (event: KeyboardEvent) => {
      if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
      const control = event.target instanceof Element ? event.target.closest(CONTROLS) : null;
      if (control instanceof HTMLSelectElement) return;
      if (act(current.current, event.key, control !== null)) event.preventDefault();
    };
    addEventListener('keydown', onKey);
    return () => removeEventListener('keydown', onKey);
  }, []);
}

function act({ type, remove, confirm, clear }: Actions, key: string, onControl: boolean): boolean {
  if (/^[0-9A-Za-z]$/.test(key)) type(key);
  else if (key === 'Backspace') remove();
  else if (key === 'Escape') clear();
  else if (key === 'Enter' && !onControl) confirm();
  else return false;
  return true;
}

const { t } = text;

/** A tap takes the focus from nowhere: Enter asks for the next number, and presses nothing a second time. */
export const keepFocus = (event: Event): void => event.preventDefault();

const DIGITS = ['1', '2', '3', '4', '5', '6', '7', '8', '9'];

export interface PadProps {
  /** letters that numbers of this event have; none: no second pad */
  letters: readonly string[];
  type(character: string): void;
  remove(): void;
  ask(): void;
  empty: boolean;
}

/** Twelve own keys, and the letters in use. */
export function Pad({ letters, type, remove, ask, empty }: PadProps) {
  return (
    <div class="pads">
      {letters.length > 0 && (
        <div class="letters" role="group" aria-label={t('pad.letters')}>
          {letters.map((letter) => (
            <Key key={letter} label={letter} press={() => type(letter)} />
          ))}
        </div>
      )}
      <div class="pad" role="group" aria-label={t('pad.digits')}>
        {DIGITS.map((digit) => (
          <Key key={digit} label={digit} press={() => type(digit)} />
        ))}
        <Key label="⌫" name={t('pad.remove')} press={remove} />
        <Key label="0" press={() => type('0')} />
        <Key label={t('pad.ask')} look="ask" press={ask} inactive={empty} />
      </div>
    </div>
  );
}

interface KeyProps {
  label: string;
  name?: string;
  look?: string;
  inactive?: boolean;
  press(): void;
}

function Key({ label, name, look = '', inactive = false, press }: KeyProps) {
  return (
    <button
      type="button"
      class={`key number ${look}`}
      aria-label={name}
      aria-disabled={inactive}
      onMouseDown={keepFocus}
      onClick={press}
    >
      {label}
    </button>
  );
}

/** The number as far as it is typed. */
export function NumberBox({ number, asking }: { number: string; asking: boolean }) {
  return (
    <div class="number-box" role="status" aria-label={t('number')} aria-busy={asking}>
      {number === '' ? <span class="hint">{t('number')}</span> : <NumberView number={number} />}
      <span class="asking">{asking && t('asking')}</span>
    </div>
  );
}
