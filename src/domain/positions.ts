/** The axle of a place at a wheel: `FL.in` is at the front; `undefined` for other places. */
function axleOfWheel(position: string): 'front' | 'rear' | undefined {
  const [wheel] = position.split('.');
  if (wheel === 'FL' || wheel === 'FR') return 'front';
  return wheel === 'RL' || wheel === 'RR' ? 'rear' : undefined;
}

/** At the same place, within it or around it (`FL` and `FL.in`, `front` and `FL`); the whole car is near to every place. */
export function isNear(one: string | undefined, other: string | undefined): boolean {
  if (one === undefined || other === undefined || one === other) return true;
  if (one.startsWith(`${other}.`) || other.startsWith(`${one}.`)) return true;
  return axleOfWheel(one) === other || axleOfWheel(other) === one;
}
