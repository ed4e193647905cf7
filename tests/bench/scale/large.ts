import { trialJob } from '../../../src/features/rules/trials/trial.job.ts';
import { createLogger } from '../../../src/platform/logger.ts';
import { createTask, findTask } from '../../../src/records/tasks.ts';
import { type HotPath, importPath } from '../../support/hot-paths.ts';
import type { Side, World } from './world.ts';

type Large = Pick<World, 'large' | 'imports'>;

const IMPORTED = 120;
const SYSTEM = { tokenId: '00000000-0000-7000-8000-000000000001', role: 'organizer', name: 'Bench' } as const;

/** As the worker runs it: the rules of the large event as they are, over its thousand declarations. */
function trialOf({ deps }: Side, { large }: Large): HotPath {
  const context = { log: createLogger({ level: 'silent' }), jobId: 'bench', requestId: null, attempt: 1 };
  return {
    name: 'trial of 1,000',
    prepare: async () => {
      const { rows } = await deps.db.pool.query<{ document: unknown }>(
        'SELECT document FROM rule_set_versions WHERE rule_set_id = $1',
        [large.ruleSetId],
      );
      const request = {
        eventIds: [large.eventId],
        tried: { kind: 'draft', contentHash: 'bench', document: rows[0]?.document },
      };
      const task = { kind: 'trial', subjectId: large.ruleSetId, request, actor: SYSTEM, at: new Date() } as const;
      return (await createTask(deps.db.prisma, task)).taskId;
    },
    run: async (_round, taskId) => {
      await trialJob.handle(deps, { trialId: String(taskId) }, context);
      return findTask(deps.db.prisma, 'trial', String(taskId));
    },
    after: async (task) => {
      const { state, error, done } = task as { state: string; error?: string; done: number };
      if (state !== 'done' || done !== 1000) throw new Error(`the trial of ${done} is ${state}: ${error ?? ''}`);
    },
  };
}

/** What is large by itself. */
export const largePaths = (side: Side, world: Large): HotPath[] => [
  importPath(side.club, world.imports, IMPORTED),
  trialOf(side, world),
];
