import { defineConfig, type TestProjectInlineConfiguration } from 'vitest/config';
import { SlowestFirst } from './support/setup/slowest-first.ts';
import { LONG } from './support/size.ts';

/** Test files by what they need before they run: a project that has no file in a run prepares nothing. */
const PROJECTS: (TestProjectInlineConfiguration['test'] & { setup?: string[] })[] = [
  // Processes, databases and disks that are killed, filled or taken away.
  {
    name: 'system',
    include: ['tests/{e2e,faults,load,integration/platform}/**/*.test.ts'],
    setup: ['database', 'server', 'stand-in-pages', 'threads'],
    // Much of it is waiting for processes to start and to stop: with two at once a third of a two-core machine idles.
    maxWorkers: 3,
    sequence: { groupOrder: 0 },
  },
  { name: 'pages', include: ['tests/pages/**/*.test.ts'], setup: ['database', 'pages', 'threads'], isolate: false },
  {
    name: 'api',
    include: ['tests/{contract,security}/**/*.test.ts', 'tests/integration/*.test.ts', 'tests/cases/gate.test.ts'],
    setup: ['database', 'stand-in-pages', 'threads'],
    // Files of one worker follow each other in one process, with one application: see startTestApp.
    isolate: false,
    provide: { sharedApp: true },
  },
  // What an operator does, for real: images, proxies, units, drills. Minutes, and programs that not every machine has.
  ...(LONG
    ? [{ name: 'operate', include: ['tests/operate/**/*.test.ts'], setup: ['database', 'server', 'stand-in-pages'] }]
    : []),
  // Nothing but functions: no database, no build.
  { name: 'unit', include: ['tests/{unit,published}/**/*.test.ts', 'tests/cases/judged.test.ts'], isolate: false },
];

export default defineConfig({
  root: new URL('..', import.meta.url).pathname,
  test: {
    projects: PROJECTS.map(({ setup = [], ...test }) => ({
      extends: true,
      test: {
        sequence: { groupOrder: 1 },
        ...test,
        globalSetup: setup.map((name) => `tests/support/setup/${name}.ts`),
      },
    })),
    sequence: { sequencer: SlowestFirst },
    // A real database and real processes: slow is normal on a small machine, hanging is not.
    testTimeout: 180_000,
    hookTimeout: 240_000,
    // A second, the default, is less than a page needs to read itself again beside other tests.
    expect: { poll: { timeout: 20_000 } },
    maxWorkers: 2,
    reporters: ['default'],
  },
});
