import { NumberView } from './answer/answer-view.tsx';
import { text } from './text.ts';

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
