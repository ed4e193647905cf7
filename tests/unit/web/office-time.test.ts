import { describe, expect, test } from 'vitest';
import { fromWallClock, toWallClock } from '../../../src/web/shared/wall-clock.ts';

// Clock changes of the IANA time zone database: Berlin 2026-03-29 and 2026-10-25 at 01:00 UTC; Kolkata UTC+5:30 without
// any (https://www.iana.org/time-zones).
describe('the wall clock at the venue', () => {
  test.each([
    ['2026-01-15T08:30', 'Europe/Berlin', '2026-01-15T07:30:00.000Z'],
    ['2026-07-15T08:30', 'Europe/Berlin', '2026-07-15T06:30:00.000Z'],
    ['2026-03-29T01:59', 'Europe/Berlin', '2026-03-29T00:59:00.000Z'],
    ['2026-03-29T03:00', 'Europe/Berlin', '2026-03-29T01:00:00.000Z'],
    ['2026-10-25T03:30', 'Europe/Berlin', '2026-10-25T02:30:00.000Z'],
    ['2026-06-01T00:15', 'Asia/Kolkata', '2026-05-31T18:45:00.000Z'],
    ['2026-06-01T23:00', 'America/Los_Angeles', '2026-06-02T06:00:00.000Z'],
  ])('%s in %s is %s, both ways', (clock, zone, instant) => {
    expect(fromWallClock(clock, zone)).toBe(instant);
    expect(toWallClock(instant, zone)).toBe(clock);
  });

  test('the hour that comes twice is the first of the two', () => {
    expect(fromWallClock('2026-10-25T02:30', 'Europe/Berlin')).toBe('2026-10-25T00:30:00.000Z');
    expect(toWallClock('2026-10-25T01:30:00.000Z', 'Europe/Berlin')).toBe('2026-10-25T02:30');
  });

  test('an hour that does not exist is the time after the gap', () => {
    expect(fromWallClock('2026-03-29T02:30', 'Europe/Berlin')).toBe('2026-03-29T01:30:00.000Z');
  });

  test('what is no time goes to the server as it is', () => {
    expect(fromWallClock('', 'Europe/Berlin')).toBe('');
    expect(fromWallClock('tomorrow', 'Europe/Berlin')).toBe('tomorrow');
  });
});
