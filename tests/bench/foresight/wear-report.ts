import { WEAR_HABITS, wearBand } from '../../../src/domain/foresight/wear-band.ts';
import { makeWearSeason, WEAR_KINDS } from './wear-world.ts';

/** Forecasts against what was then read: share inside the band, and its width beside that of the world's own interval. */
export function reportWear(kind: keyof typeof WEAR_KINDS, seeds: readonly number[]) {
  let [inside, width, trueWidth, straightInside] = [0, 0, 0, 0];
  for (const seed of seeds) {
    const { readings, ahead, readAfter, trueInterval } = makeWearSeason(seed, WEAR_KINDS[kind]);
    const { low, high } = wearBand(readings, ahead, WEAR_HABITS[kind], { isRead: true });
    if (readAfter >= low && readAfter <= high) inside += 1;
    width += high - low;
    trueWidth += trueInterval.high - trueInterval.low;
    // What a straight line through first and last says, give or take the reading.
    const [first, last] = [readings[0], readings.at(-1)];
    if (first === undefined || last === undefined) continue;
    const line = last.mm - ((first.mm - last.mm) / (last.sessions - first.sessions)) * ahead;
    if (Math.abs(readAfter - line) <= 1.645 * WEAR_HABITS[kind].reading) straightInside += 1;
  }
  return {
    coverage: inside / seeds.length,
    width: width / seeds.length,
    ofTrueWidth: width / trueWidth,
    straightCoverage: straightInside / seeds.length,
  };
}
