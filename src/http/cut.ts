/** Faults that are listed; what is more is counted. */
export const MAX_LISTED = 100;
const MAX_POINTER = 200;
const MAX_DETAIL = 400;

/** A text for a message, cut where it is too long for one. */
export function cutText(text: string, most: number): string {
  if (text.length <= most) return text;
  // Half of a surrogate pair is no character.
  return `${text.slice(0, most).replace(/[\uD800-\uDBFF]$/, '')}…`;
}

/** The first of many faults, each short enough for a message, and how many more there are. */
export function listFaults<T extends { pointer: string; detail: string }>(
  faults: readonly T[],
): { listed: T[]; more: number } {
  const listed = faults.slice(0, MAX_LISTED).map((fault) => ({
    ...fault,
    pointer: cutText(fault.pointer, MAX_POINTER),
    detail: cutText(fault.detail, MAX_DETAIL),
  }));
  return { listed, more: faults.length - listed.length };
}
