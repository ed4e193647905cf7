/** Where the process gets the time from. Tests pass one that they set. */
export type Clock = {
  /** The present instant (UTC). */
  now(): Date;
};

/** The machine's clock. */
export const systemClock: Clock = { now: () => new Date() };
