/** Clocks of a device, in milliseconds: one that people and networks set, and one that only goes on. */
export interface DeviceClocks {
  /** since 1970 (UTC); may be wrong, may be set */
  wall(): number;
  /** since some moment of this start; stands still while some devices sleep */
  steady(): number;
}

/** It is not earlier than `from` and not later than `to`, by all that is known here. */
export interface Span {
  from: Date;
  to: Date;
}

/** What outlives a start: the server's clock less this device's, and how late it was here when last looked at. */
export interface KeptClock {
  offsetMs: number;
  wallMs: number;
}

export interface TrustedClock {
  /** the server answered; `date` is its clock, cut to the second */
  contact(date: Date): void;
  now(): Span;
  /** whether the clock of this device was set since the last contact: then nothing can be told from it */
  jumped(): boolean;
  /** the page was out of sight, so that the device may have slept since the last look */
  hidden(): void;
  keep(): KeptClock;
}

const JUMP_MS = 2 * 60_000;
// The header `Date` is cut to the second, and a list is made before the header is written.
const CUT_MS = 1000;

/**
 * The server's time as this device can know it. Between two contacts both clocks of the device are followed; what they
 * disagree about is the width of the span, and an answer must hold at both ends of it. More than two minutes of
 * disagreement is a clock that was set, except a lead of the wall clock after the page was hidden: that is sleep.
 */
export function trustedClock(clocks: DeviceClocks, kept?: KeptClock): TrustedClock {
  let anchor = { server: clocks.wall() + (kept?.offsetMs ?? 0), wall: clocks.wall(), steady: clocks.steady() };
  // Across a start only a clock that went back can be told; one that went forward makes the list older.
  let isSet = kept !== undefined && clocks.wall() < kept.wallMs - JUMP_MS;
  let maySleep = false;
  let sleptMs = 0;

  const elapsed = () => ({ wall: clocks.wall() - anchor.wall, steady: clocks.steady() - anchor.steady });

  function look(): void {
    const { wall, steady } = elapsed();
    const lead = wall - steady - sleptMs;
    if (lead > JUMP_MS && maySleep) sleptMs += lead;
    else if (Math.abs(lead) > JUMP_MS) isSet = true;
    maySleep = false;
  }

  return {
    contact(date) {
      const server = date.getTime() + CUT_MS;
      anchor = { server, wall: clocks.wall(), steady: clocks.steady() };
      isSet = false;
      maySleep = false;
      sleptMs = 0;
    },
    now() {
      const { wall, steady } = elapsed();
      return {
        from: new Date(anchor.server + Math.min(wall, steady)),
        to: new Date(anchor.server + Math.max(wall, steady)),
      };
    },
    jumped() {
      look();
      return isSet;
    },
    hidden() {
      look();
      maySleep = true;
    },
    keep: () => ({ offsetMs: anchor.server - anchor.wall, wallMs: clocks.wall() }),
  };
}
