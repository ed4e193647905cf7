/** Where the process gets the time from. Tests pass one that they set. */
export type Clock = {
  /** The present instant (UTC). */
  now(): Date;
  /** How far the clock of this process is ahead of the database's, milliseconds; undefined when that is not known. */
  differenceMs?(): number | undefined;
  /** Tests only: what `decisionTime` says instead of the database's clock, or how far it is moved. */
  shift?(): { at: Date } | { milliseconds: number };
};

/** The machine's clock. */
export const systemClock: Clock = { now: () => new Date() };
