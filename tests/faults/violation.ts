/** A promise that was broken: which one, and what shows it. */
export interface Violation {
  promise: Promise_;
  what: string;
}

export type Promise_ =
  | 'acknowledged write is there once'
  | 'import is all or nothing'
  | 'every row is sealed once'
  | 'refused write did not happen'
  | 'nothing happened that nobody asked for'
  | 'history agrees with the order in time'
  | 'chain is intact'
  | 'ticket is held once'
  | 'sign-off is once per claim'
  | 'gate never admits against the history'
  | 'gate never refuses against the history'
  | 'gate answer is in the log'
  | 'outbox row is done at least once'
  | 'entrant is told exactly once'
  | 'no absurd answer'
  | 'system recovers';

export function groupBy<T>(items: readonly T[], keyOf: (item: T) => string): Map<string, T[]> {
  const groups = new Map<string, T[]>();
  for (const item of items) {
    const key = keyOf(item);
    const group = groups.get(key);
    if (group === undefined) groups.set(key, [item]);
    else group.push(item);
  }
  return groups;
}
