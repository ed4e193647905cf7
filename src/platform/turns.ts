/** Thrown when as many wait as may wait. */
export class NoTurn extends Error {}

/** Runs work when it is its turn. */
export type Turns = <T>(work: () => Promise<T>) => Promise<T>;

/**
 * Lets only so many pieces of work run at once and only so many wait, in the order they came: what is dear cannot
 * take the process away from what is urgent.
 *
 * @returns a function that runs work in its turn, and rejects with `NoTurn` at once when too many wait
 */
export function createTurns({ atOnce, waiting }: { atOnce: number; waiting: number }): Turns {
  const queue: (() => void)[] = [];
  let running = 0;
  const next = () => {
    const start = queue.shift();
    // A turn that is handed on stays counted.
    if (start === undefined) running -= 1;
    else start();
  };
  return async (work) => {
    if (running < atOnce) running += 1;
    else if (queue.length >= waiting) throw new NoTurn('too many wait');
    else await new Promise<void>((resolve) => queue.push(resolve));
    try {
      return await work();
    } finally {
      next();
    }
  };
}
