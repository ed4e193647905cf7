import { defineConfig } from 'vitest/config';

export default defineConfig({
  root: new URL('..', import.meta.url).pathname,
  test: {
    include: ['tests/{unit,published,integration,contract,e2e,security,faults,load,pages}/**/*.test.ts'],
    globalSetup: ['tests/support/global-setup.ts'],
    // A real database and real processes: slow is normal on a small machine, hanging is not.
    testTimeout: 60_000,
    hookTimeout: 90_000,
    maxWorkers: 2,
    reporters: ['default'],
  },
});
