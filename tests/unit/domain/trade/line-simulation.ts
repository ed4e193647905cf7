import { openRandom } from '../../../../src/domain/foresight/random.ts';
import type { Morning } from '../../../../src/domain/trade/line/line-staffing.ts';
import type { Line } from '../../../../src/domain/trade/line/line-staffing-erlang.ts';

/** Uniform numbers from 0 to 1, the same for the same seed. */
export const seededRandom = (seed: number): (() => number) => openRandom(seed).uniform;

const exponential = (mean: number, random: () => number): number => -mean * Math.log(1 - random());

/** Takes the inspector who is free first; gives the wait and keeps when he is free again. */
function serve(freeAt: number[], arrival: number, service: number): number {
  let first = 0;
  for (let index = 1; index < freeAt.length; index += 1) if ((freeAt[index] ?? 0) < (freeAt[first] ?? 0)) first = index;
  const start = Math.max(arrival, freeAt[first] ?? 0);
  freeAt[first] = start + service;
  return start - arrival;
}

export interface Estimate {
  mean: number;
  /** standard error from the means of batches, which are nearly independent */
  error: number;
}

function estimate(values: readonly number[], batches: number): Estimate {
  const size = Math.floor(values.length / batches);
  const means = Array.from({ length: batches }, (_, batch) => {
    const part = values.slice(batch * size, (batch + 1) * size);
    return part.reduce((sum, value) => sum + value, 0) / size;
  });
  const mean = means.reduce((sum, value) => sum + value, 0) / batches;
  const variance = means.reduce((sum, value) => sum + (value - mean) ** 2, 0) / (batches - 1);
  return { mean, error: Math.sqrt(variance / batches) };
}

/** Cars one after the other through a line in steady state; the first tenth, while it fills, is left out. */
export function simulateLine(line: Line, cars: number, longMinutes: number, random: () => number) {
  const freeAt = Array.from({ length: line.inspectors }, () => 0);
  let clock = 0;
  const waits = Array.from({ length: cars }, () => {
    clock += exponential(60 / line.arrivalsPerHour, random);
    return serve(freeAt, clock, exponential(line.serviceMinutes, random));
  }).slice(cars / 10);
  return {
    meanWait: estimate(waits, 40),
    waits: estimate(
      waits.map((wait) => (wait > 0 ? 1 : 0)),
      40,
    ),
    waitsLong: estimate(
      waits.map((wait) => (wait > longMinutes ? 1 : 0)),
      40,
    ),
  };
}

/**
 * The share of mornings in which the last car to come waits no longer than there is time for: arrivals at random
 * times of the window, the line empty at the start.
 */
export function simulateMorning(morning: Morning, inspectors: number, mornings: number, random: () => number): number {
  const { cars, arrivalMinutes, serviceMinutes, minutesToFirstSession } = morning;
  const spare = minutesToFirstSession - arrivalMinutes - serviceMinutes;
  let inTime = 0;
  for (let round = 0; round < mornings; round += 1) {
    const freeAt = Array.from({ length: inspectors }, () => 0);
    const arrivals = Array.from({ length: cars }, () => random() * arrivalMinutes).sort((a, b) => a - b);
    let last = 0;
    for (const arrival of arrivals) last = serve(freeAt, arrival, exponential(serviceMinutes, random));
    if (last <= spare) inTime += 1;
  }
  return inTime / mornings;
}
