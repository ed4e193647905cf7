import { defineConfig, mergeConfig } from 'vitest/config';
import shared from '../vitest.config.ts';

const { projects: _, ...common } = shared.test ?? {};

/** `npm run screenshots`: not a test, but made with what the tests of the pages have. */
export default mergeConfig(
  { ...shared, test: common },
  defineConfig({
    test: {
      include: ['tests/pages/screenshots.ts'],
      testTimeout: 300_000,
      globalSetup: ['database', 'pages', 'threads'].map((name) => `tests/support/setup/${name}.ts`),
    },
  }),
);
