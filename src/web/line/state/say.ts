import { signal } from '@preact/signals';

/** What a screen reader is to be told; the newest stands. */
export const polite = signal('');
export const urgent = signal('');

/** Says something that is not shown where the eye is. */
export function say(message: string, how: 'polite' | 'urgent' = 'polite'): void {
  const to = how === 'polite' ? polite : urgent;
  // The same words twice are told twice only when they were gone in between.
  to.value = '';
  setTimeout(() => {
    to.value = message;
  }, 50);
}
