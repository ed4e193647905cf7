import { NOTHING, type Typed } from './entries.ts';

const nameOf = (entryId: string): string => `gridworthy.session ${entryId}`;

/** What was typed and not written down yet: a reload in the paddock loses nothing. */
export function readTyped(entryId: string): Typed {
  try {
    const kept = JSON.parse(localStorage.getItem(nameOf(entryId)) ?? '{}') as Partial<Typed>;
    return { ...NOTHING, ...kept };
  } catch {
    // Not ours, or storage is closed: the fields begin empty.
    return NOTHING;
  }
}

export function keepTyped(entryId: string, typed: Typed): void {
  try {
    localStorage.setItem(nameOf(entryId), JSON.stringify(typed));
  } catch {
    // Full or blocked storage: it is on the screen, and written down it goes on its own way.
  }
}
