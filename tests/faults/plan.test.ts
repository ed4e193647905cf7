import { describe, expect, test } from 'vitest';
import { CREW, planHash, planRounds, touched } from './plan.ts';

describe('a plan', () => {
  const both = { redis: true, smallDisk: true };

  test('is the same for the same seed, and another for another', () => {
    const hash = (seed: number) => planHash(seed, planRounds(seed, 50, 'processes', both), CREW);
    expect(hash(1)).toBe(hash(1));
    expect(new Set([1, 2, 3, 4].map(hash)).size).toBe(4);
  });

  test.each(['processes', 'embedded'] as const)('asks for the same faults and quiet times again (%s)', (mode) => {
    const rounds = (seed: number) => planRounds(seed, 100, mode, both);
    expect(rounds(7)).toEqual(rounds(7));
    expect(rounds(7)).not.toEqual(rounds(8));
    // A longer run of the same seed begins as the shorter one did.
    expect(planRounds(7, 20, mode, both)).toEqual(rounds(7).slice(0, 20));
  });

  test('of the embedded mode has every kind of fault in every ten rounds', () => {
    const faults = planRounds(3, 10, 'embedded', { redis: false, smallDisk: true }).flatMap((round) => round.faults);
    expect(faults.map((fault) => `${fault.kind} ${touched(fault)}`).toSorted()).toEqual(
      [
        'disk-full database',
        'freeze database',
        'freeze server',
        'kill both',
        'kill database',
        'kill server',
        'leases-end leases',
        'quit-database database',
        'restart-database database',
        'stop server',
      ].toSorted(),
    );
  });

  test('has every kind of fault within forty rounds, whatever the seed', () => {
    for (const seed of [1, 2, 3]) {
      const faults = planRounds(seed, 40, 'processes', both).flatMap((round) => round.faults);
      expect([...new Set(faults.map(({ kind }) => kind))].toSorted()).toEqual(
        [
          'cut',
          'disk-full',
          'flush-redis',
          'freeze',
          'kill',
          'leases-end',
          'quit-database',
          'restart-database',
          'restart-redis',
          'stop',
        ].toSorted(),
      );
      const killed = faults.filter(({ kind }) => kind === 'kill').map(touched);
      expect([...new Set(killed)].toSorted()).toEqual(
        ['api-1', 'api-2', 'database', 'redis', 'worker-1', 'worker-2'].toSorted(),
      );
    }
  });

  test('asks nothing of what a machine cannot do', () => {
    const faults = planRounds(1, 100, 'processes', { redis: false, smallDisk: false }).flatMap((round) => round.faults);
    expect(faults.filter((fault) => touched(fault).startsWith('redis') || fault.kind === 'disk-full')).toEqual([]);
  });
});
