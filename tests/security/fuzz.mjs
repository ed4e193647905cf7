// `npm run fuzz -- --seed N --runs M`: the generator of fuzz.test.ts with as many requests as wanted.
import { spawnSync } from 'node:child_process';
import { randomInt } from 'node:crypto';
import { parseArgs } from 'node:util';

const { values } = parseArgs({ options: { seed: { type: 'string' }, runs: { type: 'string', default: '200000' } } });
for (const [name, value] of Object.entries(values)) {
  if (!/^\d{1,10}$/.test(value)) {
    process.stderr.write(`--${name} must be a whole number\n`);
    process.exit(2);
  }
}
const env = {
  ...process.env,
  FUZZ_RUNS: values.runs,
  // the run prints it
  FUZZ_SEED: values.seed ?? String(randomInt(2 ** 31)),
};
const vitest = ['vitest', 'run', '--config', 'tests/vitest.config.ts', 'tests/security/fuzz.test.ts'];
const { status } = spawnSync('npx', vitest, { env, stdio: 'inherit' });
process.exit(status ?? 1);
