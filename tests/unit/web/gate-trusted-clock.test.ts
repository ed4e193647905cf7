import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { trustedClock } from '../../../src/web/gate/kept/trusted-clock.ts';

const MINUTE = 60_000;
const START = Date.parse('2026-06-13T08:00:00.000Z');

/** A device whose clocks the test moves. */
function device() {
  const at = { wall: START, steady: 0 };
  return {
    clocks: { wall: () => at.wall, steady: () => at.steady },
    pass: (ms: number) => {
      at.wall += ms;
      at.steady += ms;
    },
    sleep: (ms: number) => {
      at.wall += ms;
    },
    set: (byMs: number) => {
      at.wall += byMs;
    },
  };
}

const instant = (ms: number) => new Date(START + ms);

describe('the time of the server', () => {
  test('is what the server said, and goes on', () => {
    const { clocks, pass } = device();
    const clock = trustedClock(clocks);
    clock.contact(instant(30 * MINUTE));
    pass(5 * MINUTE);
    // `Date` is cut to the second (RFC 9110, section 5.6.7), so the server may be a second further.
    expect(clock.now()).toEqual({ from: instant(35 * MINUTE + 1000), to: instant(35 * MINUTE + 1000) });
  });

  test('is never before the instant at which a list was made that came with the answer', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 10 ** 10 }), (ms) => {
        const clock = trustedClock(device().clocks);
        clock.contact(new Date(Math.floor((START + ms) / 1000) * 1000));
        expect(clock.now().from.getTime()).toBeGreaterThanOrEqual(START + ms);
      }),
    );
  });

  test('is known after a start by what was kept', () => {
    const { clocks, pass } = device();
    const before = trustedClock(clocks);
    before.contact(instant(-3 * MINUTE));
    const kept = before.keep();
    pass(60 * MINUTE);
    const after = trustedClock(clocks, kept);
    expect(after.jumped()).toBe(false);
    expect(after.now().to).toEqual(instant(57 * MINUTE + 1000));
  });
});

describe('a clock that was set', () => {
  test.each([
    [3 * MINUTE, true],
    [-3 * MINUTE, true],
    [1 * MINUTE, false],
    [-1 * MINUTE, false],
  ])('by %i ms is noticed: %s', (byMs, noticed) => {
    const { clocks, pass, set } = device();
    const clock = trustedClock(clocks);
    clock.contact(instant(0));
    pass(MINUTE);
    set(byMs);
    expect(clock.jumped()).toBe(noticed);
    pass(10 * MINUTE);
    expect(clock.jumped()).toBe(noticed);
  });

  test('is forgiven by the next contact only, not by being set back', () => {
    const { clocks, set } = device();
    const clock = trustedClock(clocks);
    set(10 * MINUTE);
    expect(clock.jumped()).toBe(true);
    set(-10 * MINUTE);
    expect(clock.jumped()).toBe(true);
    clock.contact(instant(0));
    expect(clock.jumped()).toBe(false);
  });

  test('back between two starts is noticed', () => {
    const { clocks, set } = device();
    const kept = trustedClock(clocks).keep();
    set(-3 * MINUTE);
    expect(trustedClock(clocks, kept).jumped()).toBe(true);
  });

  test('by less than is noticed makes the time a span with both clocks in it', () => {
    const { clocks, pass, set } = device();
    const clock = trustedClock(clocks);
    clock.contact(instant(0));
    pass(MINUTE);
    set(-30_000);
    expect(clock.now()).toEqual({ from: instant(31_000), to: instant(61_000) });
  });
});

describe('sleep', () => {
  test('while the page is hidden is no clock that was set, and counts as time that may have gone by', () => {
    const { clocks, pass, sleep } = device();
    const clock = trustedClock(clocks);
    clock.contact(instant(0));
    pass(MINUTE);
    clock.hidden();
    sleep(40 * MINUTE);
    expect(clock.jumped()).toBe(false);
    expect(clock.now()).toEqual({ from: instant(61_000), to: instant(41 * MINUTE + 1000) });
    pass(MINUTE);
    expect(clock.jumped()).toBe(false);
  });

  test('does not excuse a clock that is set afterwards, nor one that went back meanwhile', () => {
    const awake = device();
    const clock = trustedClock(awake.clocks);
    clock.hidden();
    awake.sleep(40 * MINUTE);
    expect(clock.jumped()).toBe(false);
    awake.set(3 * MINUTE);
    expect(clock.jumped()).toBe(true);
    const back = device();
    const other = trustedClock(back.clocks);
    other.hidden();
    back.set(-3 * MINUTE);
    expect(other.jumped()).toBe(true);
  });
});
