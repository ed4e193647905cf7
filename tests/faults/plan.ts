import { createHash } from 'node:crypto';
import { type Random, randomOf } from './random.ts';

export type Mode = 'processes' | 'embedded';
export type Cut = 'drop' | 'hang' | 'half-open' | 'one-way';

/** One thing that goes wrong. `ms`: for how long, or how long until the process is started again. */
export type Fault =
  | { kind: 'kill' | 'freeze' | 'stop'; target: string; ms: number }
  | { kind: 'cut'; how: Cut; link: 'database' | 'redis'; target: string; ms: number }
  | { kind: 'quit-database' | 'restart-database' | 'restart-redis' | 'disk-full'; ms: number }
  | { kind: 'flush-redis' | 'leases-end'; ms: number };

/** Faults that happen together, after a quiet time. */
export interface Round {
  quietMs: number;
  faults: readonly Fault[];
}

export interface Abilities {
  redis: boolean;
  smallDisk: boolean;
}

export const APIS = ['api-1', 'api-2'] as const;
export const WORKERS = ['worker-1', 'worker-2'] as const;
const MEMBERS = [...APIS, ...WORKERS];
const CUTS: readonly Cut[] = ['drop', 'hang', 'half-open', 'one-way'];

type Draw = (random: Random) => Fault;

const kill =
  (target: string): Draw =>
  (random) => ({ kind: 'kill', target, ms: random.between(0, 800) });
const freeze =
  (target: string): Draw =>
  (random) => ({ kind: 'freeze', target, ms: random.between(1000, 4000) });
const stop =
  (target: string): Draw =>
  () => ({ kind: 'stop', target, ms: 0 });
const cut =
  (how: Cut, link: 'database' | 'redis', targets: readonly string[]): Draw =>
  (random) => ({ kind: 'cut', how, link, target: random.pick(targets), ms: random.between(1000, 3000) });
const quitDatabase: Draw = (random) => ({ kind: 'quit-database', ms: random.between(0, 800) });
const restart =
  (kind: 'restart-database' | 'restart-redis'): Draw =>
  (random) => ({ kind, ms: random.between(0, 500) });
const diskFull: Draw = (random) => ({ kind: 'disk-full', ms: random.between(1000, 3000) });
const simple =
  (kind: 'flush-redis' | 'leases-end'): Draw =>
  () => ({ kind, ms: 0 });

/** Every fault of a mode once. A run deals them shuffled, deck after deck, so that a short run misses as little as it can. */
function deckOf(mode: Mode, { redis, smallDisk }: Abilities): Draw[] {
  if (mode === 'embedded') {
    return [
      kill('server'),
      kill('database'),
      kill('both'),
      freeze('server'),
      freeze('database'),
      stop('server'),
      quitDatabase,
      restart('restart-database'),
      simple('leases-end'),
      ...(smallDisk ? [diskFull] : []),
    ];
  }
  const redisDraws = [
    kill('redis'),
    freeze('redis'),
    restart('restart-redis'),
    simple('flush-redis'),
    ...CUTS.map((how) => cut(how, 'redis', [...WORKERS, 'all'])),
  ];
  return [
    ...MEMBERS.map(kill),
    ...MEMBERS.map(freeze),
    ...MEMBERS.slice(0, 3).map(stop),
    kill('database'),
    freeze('database'),
    quitDatabase,
    restart('restart-database'),
    ...CUTS.map((how) => cut(how, 'database', [...MEMBERS, 'all'])),
    simple('leases-end'),
    simple('leases-end'),
    ...(redis ? redisDraws : []),
    ...(smallDisk ? [diskFull] : []),
  ];
}

/** What a fault is done to. Two faults of one round never touch the same thing. */
export function touched(fault: Fault): string {
  switch (fault.kind) {
    case 'kill':
    case 'freeze':
    case 'stop':
      return fault.target;
    case 'cut':
      return `${fault.link} of ${fault.target}`;
    case 'quit-database':
    case 'restart-database':
    case 'disk-full':
      return 'database';
    case 'restart-redis':
    case 'flush-redis':
      return 'redis';
    case 'leases-end':
      return 'leases';
  }
}

/** The rounds of a run: they follow from seed, mode and what the machine can do, and from nothing else. */
export function planRounds(seed: number, count: number, mode: Mode, abilities: Abilities): Round[] {
  const random = randomOf(seed, `faults/${mode}`);
  let deck: Draw[] = [];
  const draw = () => {
    if (deck.length === 0) deck = random.shuffled(deckOf(mode, abilities));
    return (deck.pop() as Draw)(random);
  };
  return Array.from({ length: count }, () => {
    const first = draw();
    const quietMs = random.between(100, 700);
    // Every fifth round two things go wrong at once. In the embedded server everything hangs on one process.
    if (mode === 'embedded' || !random.chance(0.2)) return { quietMs, faults: [first] };
    const second = random.pick(deckOf(mode, abilities))(random);
    return { quietMs, faults: touched(first) === touched(second) ? [first] : [first, second] };
  });
}

export interface EntrantStep {
  pauseMs: number;
  answers: 'good' | 'thin';
}

export interface InspectorStep {
  pauseMs: number;
  /** a car by its place in the list; undefined: the next on the line */
  car: number | undefined;
  renew: boolean;
  thinkMs: number;
  decide: 'accept' | 'accept-with-conditions' | 'refuse' | 'put-back' | 'walk-away';
  /** the same decision again, as a second request: afterwards, or at the same moment */
  twice: 'no' | 'afterwards' | 'at-once';
}

export interface ChiefStep {
  pauseMs: number;
  car: number;
  heldMs: number;
  requireReinspection: boolean;
  /** kept on a device without network for so long, and then sent until somebody answers; undefined: asked for once */
  keptMs: number | undefined;
}

export interface OfficeStep {
  pauseMs: number;
  /** new cars in the file */
  rows: number;
  /** the same file again after it was answered */
  again: boolean;
}

/** What each client means to do, one step after the other. What it cannot do (an empty line), it leaves out. */
export interface ClientPlans {
  entrant(car: number): () => EntrantStep;
  inspector(place: number, cars: number): () => InspectorStep;
  chief(place: number, cars: number): () => ChiefStep;
  /** the files that the office imports */
  office(): () => OfficeStep;
  /** which car is asked for next, by its place in the list */
  marshal(place: number, cars: number): () => number;
}

const DECISIONS = [
  ...Array<'accept'>(7).fill('accept'),
  'accept-with-conditions',
  'refuse',
  'put-back',
  'walk-away',
] as const;

export function planClients(seed: number): ClientPlans {
  return {
    entrant(car) {
      const random = randomOf(seed, `entrant/${car}`);
      return () => ({ pauseMs: random.between(500, 5000), answers: random.chance(0.15) ? 'thin' : 'good' });
    },
    inspector(place, cars) {
      const random = randomOf(seed, `inspector/${place}`);
      return () => ({
        pauseMs: random.between(20, 200),
        car: random.chance(0.3) ? random.between(0, cars - 1) : undefined,
        renew: random.chance(0.15),
        thinkMs: random.between(0, 300),
        decide: random.pick(DECISIONS),
        twice: random.chance(0.3) ? random.pick(['afterwards', 'at-once'] as const) : 'no',
      });
    },
    chief(place, cars) {
      const random = randomOf(seed, `chief/${place}`);
      return () => ({
        pauseMs: random.between(100, 800),
        car: random.between(0, cars - 1),
        heldMs: random.between(100, 1500),
        requireReinspection: random.chance(0.2),
        keptMs: random.chance(0.5) ? random.between(0, 3000) : undefined,
      });
    },
    office() {
      const random = randomOf(seed, 'office');
      return () => ({
        pauseMs: random.between(500, 3000),
        rows: random.between(1, 30),
        again: random.chance(0.5),
      });
    },
    marshal(place, cars) {
      const random = randomOf(seed, `marshal/${place}`);
      return () => random.between(0, cars - 1);
    },
  };
}

const STEPS_IN_HASH = 200;

/** One short text for all that a run means to do: equal for equal seeds, and different otherwise. */
export function planHash(seed: number, rounds: readonly Round[], crew: Crew): string {
  const clients = planClients(seed);
  const steps = <T>(next: () => T): T[] => Array.from({ length: STEPS_IN_HASH }, next);
  const each = <T>(count: number, planOf: (place: number) => () => T) =>
    Array.from({ length: count }, (_, place) => steps(planOf(place)));
  const all = [
    rounds,
    each(crew.cars, (car) => clients.entrant(car)),
    each(crew.inspectors, (place) => clients.inspector(place, crew.cars)),
    each(crew.chiefs, (place) => clients.chief(place, crew.cars)),
    each(crew.marshals, (place) => clients.marshal(place, crew.cars)),
    steps(clients.office()),
  ];
  return createHash('sha256').update(JSON.stringify(all)).digest('hex').slice(0, 12);
}

/** How many clients of each kind; every car has its entrant. */
export interface Crew {
  cars: number;
  inspectors: number;
  chiefs: number;
  marshals: number;
}

export const CREW: Crew = { cars: 12, inspectors: 3, chiefs: 2, marshals: 3 };

/** How often each kind of fault occurs, as one text. */
export function kindsOf(faults: readonly Fault[]): string {
  const counts = new Map<string, number>();
  for (const fault of faults) {
    const kind =
      fault.kind === 'cut'
        ? `cut ${fault.link}`
        : 'target' in fault
          ? `${fault.kind} ${roleOf(fault.target)}`
          : fault.kind;
    counts.set(kind, (counts.get(kind) ?? 0) + 1);
  }
  return [...counts]
    .toSorted(([a], [b]) => (a < b ? -1 : 1))
    .map(([kind, count]) => `${kind} ${count}`)
    .join(', ');
}

const roleOf = (target: string) => target.replace(/-\d$/, '');

/** One line that tells a fault. */
export function describeFault(fault: Fault): string {
  switch (fault.kind) {
    case 'kill':
    case 'stop':
      return `${fault.kind} ${fault.target}`;
    case 'freeze':
      return `freeze ${fault.target} for ${fault.ms} ms`;
    case 'cut':
      return `cut (${fault.how}) ${fault.link} of ${fault.target} for ${fault.ms} ms`;
    case 'disk-full':
      return `disk full for ${fault.ms} ms`;
    default:
      return fault.kind;
  }
}
