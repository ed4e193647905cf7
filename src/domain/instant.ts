/** An instant as text: RFC 3339 in UTC, for example `2026-06-13T05:40:00.000Z`. */
export type Instant = string;

/**
 * The instant as the platform has it.
 *
 * @throws RangeError on a text that is no instant
 */
export const dateOf = (instant: Instant): Date => new Date(epochMs(instant));

/**
 * Milliseconds since 1970 (UTC) of an instant.
 *
 * @throws RangeError on a text that is no instant: `NaN` would compare as "not yet over" and let a car through
 */
export function epochMs(instant: Instant): number {
  const ms = Date.parse(instant);
  if (Number.isNaN(ms)) throw new RangeError(`not an instant: ${instant}`);
  return ms;
}
