import closeWithGrace from 'close-with-grace';
import type { Logger } from './logger.ts';
import { CannotStart } from './start-checks.ts';

export type ProcessLife = {
  /** Adds a step to the stop. Steps run one after another, the one added last first: what was opened first closes last. */
  onStop(name: string, run: () => Promise<unknown>): void;
  /** Stops in the same way as a signal does; the process exits with 0. */
  stop(): void;
  /** Reports why the process cannot go on, stops in the same way, and exits with 1. */
  fail(error: unknown): void;
};

type Step = { name: string; run: () => Promise<unknown> };

/**
 * Ends the process decently: on SIGTERM, SIGINT and errors that nobody caught, all steps run, at most for the given
 * time; a second signal exits at once. A step that fails is logged and does not keep the later ones from running.
 */
export function openProcessLife(options: { log: Logger; shutdownSeconds: number }): ProcessLife {
  const { log, shutdownSeconds } = options;
  const steps: Step[] = [];
  let failure: unknown;
  const settings: closeWithGrace.Options = {
    delay: shutdownSeconds * 1000,
    logger: false,
    onSecondSignal: (signal) => log.warn({ signal }, 'second signal: exiting at once'),
    onSecondError: (error) => log.fatal({ error }, 'error while stopping: exiting at once'),
    onTimeout: () => log.error({ shutdownSeconds }, 'stop took too long: exiting'),
  };
  const grace = closeWithGrace(settings, async ({ signal, err }) => {
    const cause = failure ?? err;
    if (cause === undefined) log.info({ signal }, 'stopping');
    // Said past the logger: at any log level, and in one line.
    else if (cause instanceof CannotStart) process.stderr.write(`The server cannot start. ${cause.message}\n`);
    else log.fatal({ error: cause }, 'stopping because of an error');
    const sound = await runSteps(steps.toReversed(), log);
    log.info('stopped');
    // Makes the exit code 1.
    if (cause !== undefined || !sound) throw cause ?? new Error('a step of the stop failed');
  });
  return {
    onStop: (name, run) => void steps.push({ name, run }),
    stop: () => grace.close(),
    fail: (error) => {
      failure ??= error;
      grace.close();
    },
  };
}

async function runSteps(steps: readonly Step[], log: Logger): Promise<boolean> {
  let sound = true;
  for (const { name, run } of steps) {
    try {
      await run();
      log.debug({ step: name }, 'step of the stop done');
    } catch (error) {
      sound = false;
      log.error({ error, step: name }, 'step of the stop failed');
    }
  }
  return sound;
}
