import { openRandom } from '../../src/domain/foresight/random.ts';
import { runDay } from '../../src/domain/foresight/line-day.ts';
import { bestSet } from '../../src/domain/foresight/where-to-look.ts';
import { soakAt } from '../../src/domain/foresight/brake-margin-model.ts';
import type { PublishedCheck } from './published-check.ts';

const EXACT =
  'exact recursion for punctual patients, exponential service, mean and interval 1 (derived); the rule: Bailey 1952, Welch and Bailey 1952 (secondary)';
const SOAK =
  'two bodies that cool together, 4000 and 1500 J/K, 3, 3 and 1 W/K, 450 and 120 °C in air of 20 °C: exact solution (derived)';
const PARKED = {
  rotorJK: 4000,
  caliperJK: 1500,
  betweenWK: 3,
  rotorToAirWK: 3,
  caliperToAirWK: 1,
  ambientC: 20,
};
const STOPPED = { rotorC: 450, caliperC: 120 };
const SOAKED: readonly (readonly [seconds: number, rotorC: number, caliperC: number])[] = [
  [0, 450, 120],
  [60, 418, 151.04],
  [120, 389.92, 174.17],
  [300, 323.27, 210.33],
  [600, 248.71, 212.21],
  [900, 198.51, 188.51],
  [1200, 161.62, 160.48],
];
const seconds = Array.from({ length: 1200 }, (_, at) => at);
const hottest = () => Math.max(...seconds.map((at) => soakAt(PARKED, STOPPED, at).caliperC));
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
  ...SOAKED.flatMap(([at, rotorC, caliperC]): PublishedCheck[] => [
    {
      name: `heat soak: rotor ${at} s after stopping`,
      published: rotorC,
      tolerance: 0.005,
      unit: '°C',
      source: SOAK,
      ours: () => soakAt(PARKED, STOPPED, at).rotorC,
    },
    {
      name: `heat soak: fluid ${at} s after stopping`,
      published: caliperC,
      tolerance: 0.005,
      unit: '°C',
      source: SOAK,
      ours: () => soakAt(PARKED, STOPPED, at).caliperC,
    },
  ]),
  {
    name: 'heat soak: hottest fluid',
    published: 216.9,
    tolerance: 0.005,
    unit: '°C',
    source: SOAK,
    ours: hottest,
  },
  {
    name: 'heat soak: when the fluid is hottest',
    published: 447,
    tolerance: 1,
    unit: 's',
    source: SOAK,
    ours: () => seconds.findIndex((at) => soakAt(PARKED, STOPPED, at).caliperC === hottest()),
  },
  {
    name: 'heat soak: without losses both end at one temperature',
    published: 360,
    tolerance: 0.01,
    unit: '°C',
    source: SOAK,
    ours: () => soakAt({ ...PARKED, rotorToAirWK: 0, caliperToAirWK: 0 }, STOPPED, 20_000).caliperC,
  },
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
