import { useEffect, useRef } from 'preact/hooks';

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
