import type { Clock } from '../../src/platform/clock.ts';

export type SettableClock = Clock & {
  set(instant: string | Date): void;
  advance(milliseconds: number): void;
};

/** A clock that stands still until the test moves it. */
export function settableClock(start: string | Date): SettableClock {
  let at = new Date(start).getTime();
  return {
    now: () => new Date(at),
    shift: () => ({ at: new Date(at) }),
    set: (instant) => {
      at = new Date(instant).getTime();
    },
    advance: (milliseconds) => {
      at += milliseconds;
    },
  };
}

/** The machine's clock, which a test may move: for tests with a browser, whose clock goes on. */
export function tickingClock(): SettableClock {
  let offset = 0;
  return {
    now: () => new Date(Date.now() + offset),
    shift: () => ({ milliseconds: offset }),
    set: (instant) => {
      offset = new Date(instant).getTime() - Date.now();
    },
    advance: (milliseconds) => {
      offset += milliseconds;
    },
  };
}
