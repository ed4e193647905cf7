import { doubtsOf } from '../../../src/domain/foresight/adds-up.ts';
import { type CarelessKind, type DeclaredCar, makeDeclaredCar, SEVERE } from './answer-world.ts';

const CARELESS: readonly CarelessKind[] = ['copied', 'same-everywhere', 'guessed', 'wished'];

const share = (cars: readonly DeclaredCar[]) =>
  cars.filter((car) => doubtsOf(car).length > 0).length / Math.max(1, cars.length);

/** Shares of cars that are asked whether their answers are right. */
export function reportAnswers(seeds: readonly number[]) {
  const of = (kind: DeclaredCar['kind']) => seeds.map((seed) => makeDeclaredCar(seed, kind));
  const byKind = Object.fromEntries(CARELESS.map((kind) => [kind, share(of(kind))]));
  const careless = CARELESS.flatMap((kind) => of(kind));
  return {
    honest: share(of('honest')),
    careless: share(careless),
    severe: share(careless.filter(({ kind }) => SEVERE.has(kind))),
    byKind,
  };
}
