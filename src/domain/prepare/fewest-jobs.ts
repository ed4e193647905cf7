import { JOBS_ALSO_DONE, OPEN_MINUTES, type Work } from './work-table.ts';

/** Something to be put right at one place, and the repair that it mostly ends in. */
export interface Fault {
  work: Work;
  /** of a wheel; undefined: the car has one */
  wheel: string | undefined;
  axle: string | undefined;
  /** how much depends on it, 0 the most: what is only advised may be left, and ends nothing that must be */
  weight: number;
}

/** A repair at one place. */
interface Action {
  job: string;
  wheel: string | undefined;
  minutes: number;
  /** what is opened for it, and what that takes */
  opening: string;
  openMinutes: number;
}

const actionOf = ({ wheel, axle }: Fault, { job, minutes, opening }: Work): Action => ({
  job,
  wheel,
  minutes,
  opening: `${opening} ${axle ?? ''}`,
  openMinutes: OPEN_MINUTES[opening],
});
const nameOf = ({ job, wheel }: Action): string => `${job} ${wheel ?? ''}`;

/** Minutes of some repairs, everything that is opened for several of them opened once. */
function minutesOf(actions: Iterable<Action>): number {
  let minutes = 0;
  const opened = new Set<string>();
  for (const action of actions) {
    minutes += action.minutes;
    if (!opened.has(action.opening)) minutes += action.openMinutes;
    opened.add(action.opening);
  }
  return minutes;
}

/** The repairs that end a fault: its own, and those in which it is done along the way, as others here ask for them. */
function waysOut(fault: Fault, others: readonly Fault[], alsoDone: typeof JOBS_ALSO_DONE): Action[] {
  const also = others.filter(
    ({ work, wheel, weight }) =>
      wheel === fault.wheel && weight <= fault.weight && alsoDone[work.job]?.includes(fault.work.job) === true,
  );
  const all = [actionOf(fault, fault.work), ...also.map((other) => actionOf(other, other.work))];
  return [...new Map(all.map((action) => [nameOf(action), action])).values()];
}

/**
 * The repairs that end all faults in the fewest minutes, of as many minutes the fewest repairs: a repair in which another is
 * done along the way makes that one needless. Exact. Pure; never throws.
 *
 * @param alsoDone jobs that each job makes needless at its place
 * @returns for each fault the job that ends it, in their order
 * @see minimum set cover with shared costs, by branch and bound, textbook
 */
export function fewestJobs(faults: readonly Fault[], alsoDone = JOBS_ALSO_DONE): string[] {
  const ways = faults.map((fault) => waysOut(fault, faults, alsoDone));
  const chosen = new Map<string, Action>();
  for (const options of ways) {
    const [only] = options;
    if (options.length === 1 && only !== undefined) chosen.set(nameOf(only), only);
  }
  const isEnded = (options: readonly Action[], by: ReadonlyMap<string, Action>) =>
    options.some((action) => by.has(nameOf(action)));
  const left = ways.filter((options) => !isEnded(options, chosen));
  const best = cheapest(left, chosen);
  return ways.map(
    (options, at) => options.find((action) => best.has(nameOf(action)))?.job ?? faults[at]?.work.job ?? '',
  );
}

function cheapest(left: readonly (readonly Action[])[], forced: ReadonlyMap<string, Action>): Map<string, Action> {
  let best: Map<string, Action> | undefined;
  let bestMinutes = Infinity;
  const search = (at: number, taken: Map<string, Action>): void => {
    const minutes = minutesOf(taken.values());
    if (minutes > bestMinutes || (minutes === bestMinutes && taken.size >= (best?.size ?? Infinity))) return;
    const options = left[at];
    if (options === undefined) {
      best = taken;
      bestMinutes = minutes;
      return;
    }
    if (options.some((action) => taken.has(nameOf(action)))) return search(at + 1, taken);
    for (const action of options) search(at + 1, new Map([...taken, [nameOf(action), action]]));
  };
  search(0, new Map(forced));
  return best ?? new Map(forced);
}
