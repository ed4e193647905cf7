/** Work that waits for its turn. */
export interface Turn {
  caller: string;
  /** 0 goes first */
  urgency: number;
}

/**
 * Takes the work whose turn it is: the most urgent, among those that of the caller who was served longest ago, so that
 * whoever has much waiting is not served more often than whoever has little.
 *
 * @param queue in the order of coming, not empty
 * @param served when each caller was last served; is told
 */
export function takeNext<T extends Turn>(queue: T[], served: Map<string, number>): T {
  const lastOf = ({ caller }: T) => served.get(caller) ?? 0;
  const isBefore = (one: T, other: T) =>
    one.urgency === other.urgency ? lastOf(one) < lastOf(other) : one.urgency < other.urgency;
  let next = 0;
  for (const [at, turn] of queue.entries()) {
    const first = queue[next];
    if (first !== undefined && isBefore(turn, first)) next = at;
  }
  const [taken] = queue.splice(next, 1);
  if (taken === undefined) throw new Error('nothing waits');
  served.set(taken.caller, Math.max(0, ...served.values()) + 1);
  return taken;
}
