const CORNERS: Readonly<Record<string, readonly [number, number]>> = {
  FL: [2, 4],
  FR: [19, 4],
  RL: [2, 24],
  RR: [19, 24],
};
const AXLES: Readonly<Record<string, readonly string[]>> = { front: ['FL', 'FR'], rear: ['RL', 'RR'] };

/** The car from above with the corner that is meant; nothing for a place that is no corner. The name stands beside it. */
export function CornerMark({ position }: { position: string }) {
  const corner = position.slice(0, 2);
  const filled = AXLES[position] ?? (corner in CORNERS ? [corner] : []);
  if (filled.length === 0) return null;
  return (
    <svg class="corner" viewBox="0 0 28 40" aria-hidden="true">
      <rect x="6" y="1" width="16" height="38" rx="6" class="body" />
      {Object.entries(CORNERS).map(([name, [x, y]]) => (
        <rect key={name} x={x} y={y} width="7" height="12" rx="1.5" class={filled.includes(name) ? 'this' : 'other'} />
      ))}
    </svg>
  );
}
