import { relative } from 'node:path';
import { BaseSequencer, type TestSpecification } from 'vitest/node';

/** In the order of starting: what runs longest first, so that no single file ends a run alone. */
const PROJECTS = ['system', 'pages', 'api', 'unit'];

/** What took longest in each project when it was last looked at, slowest first; a guess is good enough. */
const SLOW = [
  'tests/faults/faults.test.ts',
  'tests/integration/platform/embedded-postgres.test.ts',
  'tests/e2e/start.test.ts',
  'tests/e2e/roles.test.ts',
  'tests/e2e/kill.test.ts',
  'tests/integration/platform/process-life.test.ts',
  'tests/faults/full-disk.test.ts',
  'tests/pages/garage-states.test.ts',
  'tests/pages/enrol.test.ts',
  'tests/pages/line-network.test.ts',
  'tests/security/seeded-faults.test.ts',
  'tests/integration/access-matrix.test.ts',
  'tests/security/fuzz.test.ts',
  'tests/integration/audit.test.ts',
  'tests/integration/stream-process.test.ts',
  'tests/unit/domain/rules/properties.test.ts',
  'tests/unit/features/calculations/calculations.test.ts',
];

/** Files of a project stay together, because a worker is kept from file to file only within one. */
export class SlowestFirst extends BaseSequencer {
  override async sort(files: TestSpecification[]): Promise<TestSpecification[]> {
    // What the runner remembers of earlier runs, or the size of the files.
    const known = await super.sort(files);
    const rank = ({ project, moduleId }: TestSpecification) => {
      const slow = SLOW.indexOf(relative(project.config.root, moduleId));
      return PROJECTS.indexOf(project.name) * 1000 + (slow < 0 ? 999 : slow);
    };
    return known.toSorted((a, b) => rank(a) - rank(b));
  }
}
