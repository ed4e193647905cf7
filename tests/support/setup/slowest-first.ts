import { relative } from 'node:path';
import { BaseSequencer, type TestSpecification } from 'vitest/node';

/** In the order of starting: what runs longest first, so that no single file ends a run alone. */
const PROJECTS = ['system', 'pages', 'api', 'unit'];

/** Files of more than ten seconds on a quiet machine, slowest first; a guess is good enough. */
const SLOW: string[] = [];

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
