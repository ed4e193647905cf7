import { defineConfig, mergeConfig } from 'vitest/config';
import shared from '../vitest.config.ts';

/** `npm run screenshots`: not a test, but made with what the tests have. */
export default mergeConfig(
  { ...shared, test: { ...shared.test, include: [] } },
  defineConfig({ test: { include: ['tests/pages/screenshots.ts'], testTimeout: 300_000 } }),
);
