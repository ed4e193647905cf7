import { signal } from '@preact/signals';
import type { Target } from './hindrances.ts';

/** The place that is to get the focus once it is drawn; its area opens for it. */
export const wantedCell = signal<string | undefined>(undefined);

export const placeId = (cell: string): string => `place-${cell.replace(/[@.]/g, '_')}`;

/** Where the focus goes for a target that is not a place on the car. */
const FIELD_IDS = { sticker: 'sticker', note: 'note', conditions: 'condition-add' } as const;

/** Brings a target into sight and the focus to it. */
export function goTo(target: Target): void {
  if (target.kind === 'place') {
    // Asked for again, it must change to be noticed.
    wantedCell.value = undefined;
    wantedCell.value = target.cell;
    return;
  }
  focusOn(target.kind === 'condition' ? `condition-${target.id}` : FIELD_IDS[target.kind]);
}

/** @returns whether there was something to focus */
export function focusOn(id: string): boolean {
  const found = document.getElementById(id);
  found?.scrollIntoView({ block: 'center' });
  found?.focus({ preventScroll: true });
  return found !== null;
}

const MOST_FRAMES = 30;

/** The same for something that may still have to be drawn: its area and its card may only now be opening. */
export function focusWhenDrawn(id: string, framesLeft = MOST_FRAMES): void {
  requestAnimationFrame(() => {
    if (!focusOn(id) && framesLeft > 0) focusWhenDrawn(id, framesLeft - 1);
  });
}
