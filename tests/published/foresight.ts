import { openRandom } from '../../src/domain/foresight/random.ts';
import { runDay } from '../../src/domain/foresight/line-simulation.ts';
import { bestSet } from '../../src/domain/foresight/where-to-look.ts';
import type { PublishedCheck } from './published-check.ts';

const EXACT =
  'exact recursion for punctual patients, exponential service, mean and interval 1 (derived); the rule: Bailey 1952, Welch and Bailey 1952 (secondary)';
const RANKING = 'seven items with chance, severity and minutes, all sets tried (derived)';
const DAYS = 40_000;

/** Mean over imagined days of a clinic: `patients` with appointments one service apart, so many of them at the start. */
const clinic = new Map<string, { wait: number; idle: number }>();
function clinicOf(patients: number, atStart: number): { wait: number; idle: number } {
  const key = `${patients} ${atStart}`;
  const kept = clinic.get(key);
  if (kept !== undefined) return kept;
  const random = openRandom(1000 * patients + atStart);
  const sum = { wait: 0, idle: 0 };
  for (let day = 0; day < DAYS; day += 1) {
    const cars = Array.from({ length: patients }, (_, at) => ({
      comesAt: Math.max(0, at - atStart + 1),
      minutes: -Math.log(1 - random.uniform()),
      turn: at,
      dueAt: Infinity,
    }));
    const { waits, endsAt } = runDay(cars, [{ from: 0, to: 1000, inspectors: 1 }]);
    sum.wait += waits.reduce<number>((all, wait) => all + (wait ?? 0), 0) / patients;
    sum.idle += endsAt - cars.reduce((all, { minutes }) => all + minutes, 0);
  }
  const found = { wait: sum.wait / DAYS, idle: sum.idle / DAYS };
  clinic.set(key, found);
  return found;
}

const APPOINTMENTS: readonly (readonly [patients: number, atStart: number, wait: number, idle: number])[] = [
  [10, 1, 1.0595, 1.8144],
  [10, 2, 1.3712, 1.0408],
  [10, 3, 1.8786, 0.5166],
  [20, 1, 1.743, 2.8718],
  [20, 2, 1.9898, 2.0284],
  [20, 3, 2.4355, 1.3604],
];

const RANKED = [
  { item: 'fluid', seconds: 120, worth: 0.7 },
  { item: 'tyre', seconds: 60, worth: 0.48 },
  { item: 'nuts', seconds: 120, worth: 0.45 },
  { item: 'pads', seconds: 180, worth: 0.36 },
  { item: 'battery', seconds: 60, worth: 0.32 },
  { item: 'harness', seconds: 60, worth: 0.27 },
  { item: 'leak', seconds: 60, worth: 0.2 },
];
const TRAP = [
  { seconds: 60, worth: 30 },
  { seconds: 50, worth: 24 },
  { seconds: 50, worth: 24 },
];
const worthOf = (set: readonly { worth: number }[]) => set.reduce((sum, { worth }) => sum + worth, 0);
const best = <T extends { seconds: number; worth: number }>(items: readonly T[], seconds: number) =>
  bestSet(items, ({ worth }) => worth, seconds);

export const CHECKS: readonly PublishedCheck[] = [
  ...APPOINTMENTS.flatMap(([patients, atStart, wait, idle]): PublishedCheck[] => [
    {
      name: `appointments: mean wait, ${patients} patients, ${atStart} at the start`,
      published: wait,
      // five standard errors of so many simulated days
      tolerance: 0.04,
      source: EXACT,
      ours: () => clinicOf(patients, atStart).wait,
    },
    {
      name: `appointments: idle, ${patients} patients, ${atStart} at the start`,
      published: idle,
      tolerance: 0.05,
      source: EXACT,
      ours: () => clinicOf(patients, atStart).idle,
    },
  ]),
  {
    name: 'where to look: best set of five minutes',
    published: 'fluid tyre battery harness',
    source: RANKING,
    ours: () =>
      best(RANKED, 300)
        .map(({ item }) => item)
        .join(' '),
  },
  {
    name: 'where to look: worth of the best set of five minutes',
    published: 1.77,
    tolerance: 1e-9,
    source: RANKING,
    ours: () => worthOf(best(RANKED, 300)),
  },
  {
    name: 'knapsack: one large item tempts, two small ones are worth more',
    published: 48,
    source: 'capacity 10, worth 30 of 6, 24 of 5 and 24 of 5 (derived)',
    ours: () => worthOf(best(TRAP, 100)),
  },
  {
    name: 'knapsack: what taking the best per second first gives',
    published: 30,
    wrong: true,
    source: 'the same, taken by worth per size (wrong)',
    ours: () => worthOf(best(TRAP, 100)),
  },
];
