import { acceptCar, askGate, type Club, enterCar, setUpClub } from '../e2e/club.ts';
import { startBaselines } from './gate-baselines.ts';
import { type LoadMaker, type LoadResult, startLoadMaker } from './gate-load.ts';
import { startBenchService } from './gate-service.ts';

interface Round extends LoadResult {
  /** processor time of the answering process for one request, in microseconds; the database's own is not in it */
  cpuMicroseconds: number;
}

/** Medians over the rounds of one side. */
export interface GateSide extends Round {
  name: string;
  /** requests a second, round by round */
  rounds: number[];
  /** our requests a second through those of this side: the median of the rounds, each against its own neighbour */
  ratio: number;
}

interface Side {
  name: string;
  base: string;
  paths: string[];
  /** length of a round; the sides that are only there to judge the others by get less */
  seconds: number;
}

const CARS = 200;
const ROUNDS = 5;
const SECONDS = 4;
const CONNECTIONS = 50;

const median = (values: readonly number[]): number =>
  values.toSorted((a, b) => a - b)[Math.floor(values.length / 2)] ?? 0;

/**
 * The gate lookup of the real application against bare routes, all in this process, asked in turns by another process.
 * The first side is ours, the second the baseline that counts.
 */
export async function benchGate(): Promise<GateSide[]> {
  const service = await startBenchService();
  const club = await setUpClub(service.base, service.organizer);
  const numbers = await acceptCars(service.base, club);
  const { options } = service.deps.db.pool as unknown as { options: object };
  const baselines = await startBaselines(options, club.marshal);
  const load = startLoadMaker();
  const bare = (name: string, kind: string, seconds: number): Side => {
    const paths = numbers.map((number) => `/${kind}/${club.eventId}/${number}`);
    return { name: `bare route, ${name}`, base: baselines.base, paths, seconds };
  };
  const paths = numbers.map((number) => `/v1/events/${club.eventId}/gate/${number}`);
  try {
    return await measure(load, club.marshal, [
      { name: 'gate lookup of the service', base: service.base, paths, seconds: SECONDS },
      bare('same select', 'same', SECONDS),
      bare('same select and a log row', 'logged', SECONDS / 2),
      bare('one row of one table', 'small', SECONDS / 2),
    ]);
  } finally {
    await load.stop();
    await baselines.close();
    await service.stop();
  }
}

async function acceptCars(base: string, club: Club): Promise<string[]> {
  const numbers = Array.from({ length: CARS }, (_, index) => String(index + 1));
  for (const number of numbers) await acceptCar(base, club, await enterCar(base, club, number));
  const first = await askGate(base, club, '1');
  if (first.admit !== true) throw new Error(`the cars of the bench must be admitted: ${JSON.stringify(first)}`);
  return numbers;
}

async function measure(load: LoadMaker, token: string, sides: readonly Side[]): Promise<GateSide[]> {
  for (const side of sides) await runRound(load, token, { ...side, seconds: 1.5 });
  const results: Round[][] = sides.map(() => []);
  for (let round = 0; round < ROUNDS; round += 1) {
    // Who goes first changes, so that no side always follows the same other.
    for (let turn = 0; turn < sides.length; turn += 1) {
      const place = (round + turn) % sides.length;
      results[place]?.push(await runRound(load, token, sides[place] as Side));
    }
  }
  const ours = results[0] ?? [];
  return sides.map((side, place) => summary(side.name, results[place] ?? [], ours));
}

async function runRound(load: LoadMaker, token: string, side: Side): Promise<Round> {
  const { base, paths, seconds } = side;
  const before = process.cpuUsage();
  const result = await load.run({ base, paths, token, seconds, connections: CONNECTIONS });
  const { user, system } = process.cpuUsage(before);
  return { ...result, cpuMicroseconds: (user + system) / (result.perSecond * seconds) };
}

function summary(name: string, results: readonly Round[], ours: readonly Round[]): GateSide {
  const medianOf = (key: keyof Round) => median(results.map((one) => one[key]));
  return {
    name,
    perSecond: medianOf('perSecond'),
    p50Ms: medianOf('p50Ms'),
    p99Ms: medianOf('p99Ms'),
    cpuMicroseconds: medianOf('cpuMicroseconds'),
    failed: results.reduce((sum, one) => sum + one.failed, 0),
    rounds: results.map((one) => Math.round(one.perSecond)),
    ratio: median(results.map((one, round) => (ours[round]?.perSecond ?? 0) / one.perSecond)),
  };
}
