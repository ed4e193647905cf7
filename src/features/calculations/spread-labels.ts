/**
 * Moves labels apart that would overlap: heights in px in, heights in px out in the same order, at least `gap` apart
 * and between `low` and `high` as far as they fit. Labels keep the order of what they name; those that do not overlap
 * stay where they are.
 */
export function spreadLabels(
  wanted: readonly number[],
  { gap, low, high }: { gap: number; low: number; high: number },
): number[] {
  const order = [...wanted.keys()].sort((a, b) => (wanted[a] ?? 0) - (wanted[b] ?? 0));
  const placed = order.map((index) => wanted[index] ?? 0);
  for (let i = 0, least = low; i < placed.length; i++) {
    placed[i] = Math.max(placed[i] ?? 0, least);
    least = (placed[i] ?? 0) + gap;
  }
  for (let i = placed.length - 1, most = high; i >= 0; i--) {
    placed[i] = Math.min(placed[i] ?? 0, most);
    most = (placed[i] ?? 0) - gap;
  }
  const result = [...wanted];
  for (const [place, index] of order.entries()) result[index] = placed[place] ?? 0;
  return result;
}
