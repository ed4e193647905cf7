import { signal } from '@preact/signals';

/** What was just done, shown at the top and read aloud. */
export const said = signal('');

export function say(text: string): void {
  said.value = text;
}
