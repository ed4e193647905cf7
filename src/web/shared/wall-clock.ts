const MINUTE_MS = 60_000;

/** What a `datetime-local` field holds for an instant: the wall clock at the venue. */
export function toWallClock(instant: string, timeZone: string): string {
  return new Date(Date.parse(instant) + offsetMs(Date.parse(instant), timeZone)).toISOString().slice(0, 16);
}

/**
 * The instant of a wall clock at the venue; the first of the two when clocks go back, the time after the gap when they
 * go forward. Text that is no wall clock comes back as it is, for the server to refuse.
 */
export function fromWallClock(wallClock: string, timeZone: string): string {
  const asUtc = Date.parse(`${wallClock}Z`);
  if (Number.isNaN(asUtc)) return wallClock;
  const before = offsetMs(asUtc - 24 * 60 * MINUTE_MS, timeZone);
  const guess = asUtc - before;
  const offset = offsetMs(guess, timeZone);
  const other = asUtc - offset;
  return new Date(offset === before || offsetMs(other, timeZone) !== offset ? guess : other).toISOString();
}

/** How far the wall clock at the venue is before UTC at an instant. */
function offsetMs(at: number, timeZone: string): number {
  const parts = new Intl.DateTimeFormat('en-US', {
    timeZone,
    hourCycle: 'h23',
    year: 'numeric',
    month: 'numeric',
    day: 'numeric',
    hour: 'numeric',
    minute: 'numeric',
    second: 'numeric',
  }).formatToParts(at);
  const of = (type: string): number => Number(parts.find((part) => part.type === type)?.value);
  const wall = Date.UTC(of('year'), of('month') - 1, of('day'), of('hour'), of('minute'), of('second'));
  return wall - Math.floor(at / 1000) * 1000;
}
