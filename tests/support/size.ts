/** Set by `npm run test:long`, which a release waits for. */
export const LONG = process.env['TEST_SIZE'] === 'long';

/**
 * How much the longest tests do: enough to hold the same property at every landing, and the numbers that are promised
 * before a release. The only place for such pairs.
 */
export const SIZE = LONG
  ? {
      /** inspectors who claim from one line at once, and cars on it */
      claims: { inspectors: 50, cars: 500 },
      /** requests of the fuzz run */
      fuzz: 20_000,
      /**
       * rounds of faults, with seeds under which they hold every kind of fault, or the kinds named; sign-offs before a build
       * that is broken on purpose must have been found out
       */
      faults: {
        processes: { rounds: 16, seed: 2 },
        embedded: {
          rounds: 6,
          seed: 103,
          kinds: ['disk-full', 'freeze', 'kill', 'quit-database', 'restart-database', 'stop'],
        },
        calmSignOffs: 25,
      },
      /** rule sets that judge any car, and cars under each */
      judgements: { ruleSets: 200, cars: 50 },
      /** rows while connections of the stream are cut, and how often */
      stream: { rows: 1000, cuts: 100 },
      /** times that many actions meet at one moment */
      crowds: 6,
      /** milliseconds in which the gate is of use on a slow telephone */
      gateUsableMs: 3000,
    }
  : {
      claims: { inspectors: 15, cars: 100 },
      fuzz: 5000,
      faults: {
        processes: { rounds: 8, seed: 13022 },
        embedded: { rounds: 3, seed: 217, kinds: ['kill', 'restart-database', 'stop'] },
        calmSignOffs: 15,
      },
      judgements: { ruleSets: 50, cars: 20 },
      stream: { rows: 200, cuts: 25 },
      crowds: 3,
      gateUsableMs: 15_000,
    };
