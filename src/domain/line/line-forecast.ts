/** Minutes at the line for one car while nothing has been measured yet. Common practice, no source. */
export const ASSUMED_SERVICE_MINUTES = 8;

/**
 * When a car may expect its turn: the cars before it, shared among the inspectors at work, at the usual time per car.
 * A rough estimate for people who wait, not a promise.
 *
 * @param place 1 is next
 * @param inspectors how many work now; counted as at least one
 * @param serviceMinutes measured durations of earlier inspections at this event, minutes; the median is used
 */
export function expectedTurn(now: Date, place: number, inspectors: number, serviceMinutes: readonly number[]): string {
  const perCar = median(serviceMinutes) ?? ASSUMED_SERVICE_MINUTES;
  const rounds = Math.floor((place - 1) / Math.max(1, inspectors));
  return instantAfter(now, rounds * perCar);
}

/** The middle value; the mean of the two middle ones for an even count; undefined for none. */
export function median(values: readonly number[]): number | undefined {
  const sorted = [...values].sort((a, b) => a - b);
  const upper = sorted[Math.floor(sorted.length / 2)];
  const lower = sorted[Math.ceil(sorted.length / 2) - 1];
  return upper === undefined || lower === undefined ? undefined : (lower + upper) / 2;
}

function instantAfter(now: Date, minutes: number): string {
  const copy = structuredClone(now);
  copy.setTime(now.getTime() + minutes * 60_000);
  return copy.toISOString();
}
