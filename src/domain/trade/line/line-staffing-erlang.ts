import { notComputable } from '../calculation.ts';

/** Cars that come at random at an even rate, inspectors who each take one at a time. */
export interface Line {
  arrivalsPerHour: number;
  /** mean time for one car, minutes */
  serviceMinutes: number;
  inspectors: number;
}

/** More inspectors than any line has; keeps every search finite. */
export const MOST_INSPECTORS = 10_000;

/**
 * Erlang B: the share of arrivals that find all servers busy when nobody waits. By the recursion
 * B(k) = A·B(k−1)/(k + A·B(k−1)), which neither overflows nor cancels.
 *
 * @param load offered load in erlang: arrival rate × service time
 * @throws NotComputable at `/inspectors` or `/arrivalsPerHour` when servers is no positive whole number or load negative
 * @see queueing theory textbooks
 */
export function erlangB(servers: number, load: number): number {
  if (!(Number.isInteger(servers) && servers >= 1 && servers <= MOST_INSPECTORS))
    throw notComputable('/inspectors', 'not-a-count', `Must be a whole number from 1 to ${MOST_INSPECTORS}.`);
  if (!(Number.isFinite(load) && load >= 0))
    throw notComputable('/arrivalsPerHour', 'negative', 'Must not be negative.');
  let blocked = 1;
  for (let count = 1; count <= servers; count += 1) blocked = (load * blocked) / (count + load * blocked);
  return blocked;
}

/**
 * Servers that keep up with a load: the smallest whole number above it. Never throws for a load of 0 or more. A count,
 * no unit. Source: queueing theory textbooks.
 */
export const fewestStable = (load: number): number => Math.floor(load) + 1;

/**
 * Erlang C: the probability that an arrival has to wait, in steady state.
 *
 * @throws NotComputable at `/inspectors` with code `unstable` when the load is not below the number of servers, naming
 *   the number that would do; and as `erlangB`
 * @see A. K. Erlang's delay formula, queueing theory textbooks
 */
export function erlangC(servers: number, load: number): number {
  const blocked = erlangB(servers, load);
  if (load < servers) return blocked / (1 - (load / servers) * (1 - blocked));
  const detail = `${servers} cannot keep up with a load of ${Number(load.toPrecision(4))}: the line would grow without end. At least ${fewestStable(load)} are needed.`;
  throw notComputable('/inspectors', 'unstable', detail);
}

/**
 * Offered load of a line in erlang: the number of inspectors that would be busy all the time. Never throws. Source:
 * queueing theory textbooks.
 */
export const loadOf = (line: Pick<Line, 'arrivalsPerHour' | 'serviceMinutes'>): number =>
  (line.arrivalsPerHour * line.serviceMinutes) / 60;

/**
 * Mean wait before the inspection starts, minutes, over all cars.
 *
 * @throws NotComputable as `erlangC`
 * @see `erlangC`
 */
export function meanWaitMinutes(line: Line): number {
  const load = loadOf(line);
  return (erlangC(line.inspectors, load) * line.serviceMinutes) / (line.inspectors - load);
}

/**
 * Probability that a car waits longer than so many minutes.
 *
 * @throws NotComputable as `erlangC`
 * @see `erlangC`
 */
export function waitExceeds(line: Line, minutes: number): number {
  const load = loadOf(line);
  const waits = erlangC(line.inspectors, load);
  return waits * Math.exp((-(line.inspectors - load) * Math.max(0, minutes)) / line.serviceMinutes);
}

/**
 * Mean number of cars that wait, no unit: arrival rate × mean wait (Little's law).
 *
 * @throws NotComputable as `erlangC`
 * @see Little's law, queueing theory textbooks
 */
export const meanWaiting = (line: Line): number => (line.arrivalsPerHour / 60) * meanWaitMinutes(line);

/**
 * The fewest inspectors with whom at most `share` (0 to 1) of the cars wait longer than `minutes`.
 *
 * @throws NotComputable at `/arrivalsPerHour` when more than `MOST_INSPECTORS` would be needed
 * @see `waitExceeds`
 */
export function fewestForWait(line: Omit<Line, 'inspectors'>, minutes: number, share: number): number {
  for (let inspectors = fewestStable(loadOf(line)); inspectors <= MOST_INSPECTORS; inspectors += 1)
    if (waitExceeds({ ...line, inspectors }, minutes) <= share) return inspectors;
  throw notComputable('/arrivalsPerHour', 'too-many', `More than ${MOST_INSPECTORS} inspectors would be needed.`);
}
