import { describe, expect, it } from 'vitest';
import { startChild } from '../../support/child.ts';
import { waitFor } from '../../support/wait.ts';

type Ending = { did: string[]; code: number | null; signal: NodeJS.Signals | null };

async function endingOf(mode: string, signals: NodeJS.Signals[] = []): Promise<Ending> {
  const child = await startChild('process-life-child', [mode]);
  const did: string[] = [];
  child.lines((line) => did.push((JSON.parse(line) as { did: string }).did));
  for (const [index, signal] of signals.entries()) {
    child.process.kill(signal);
    if (index < signals.length - 1) await waitFor('the first step', () => did.includes('server'));
  }
  await child.ended;
  return { did, code: child.process.exitCode, signal: child.process.signalCode };
}

describe('process life', () => {
  it.each(['SIGTERM', 'SIGINT'] as const)(
    'on %s closes what was opened first last, and exits with 0',
    async (signal) => {
      expect(await endingOf('well', [signal])).toEqual({ did: ['server', 'queue', 'database'], code: 0, signal: null });
    },
  );

  it('stops in the same way when told to', async () => {
    expect(await endingOf('stop')).toMatchObject({ did: ['server', 'queue', 'database'], code: 0 });
  });

  it('stops in the same way when it cannot go on, and exits with 1', async () => {
    expect(await endingOf('fail')).toMatchObject({ did: ['server', 'queue', 'database'], code: 1 });
  });

  it('stops in the same way on an error that nobody caught, and exits with 1', async () => {
    expect(await endingOf('uncaught')).toMatchObject({ did: ['server', 'queue', 'database'], code: 1 });
  });

  it('runs the later steps although one failed, and exits with 1', async () => {
    expect(await endingOf('throws', ['SIGTERM'])).toMatchObject({ did: ['server', 'queue', 'database'], code: 1 });
  });

  it('gives up when the time is over', async () => {
    expect(await endingOf('hangs', ['SIGTERM'])).toMatchObject({ did: ['server'], code: 1 });
  });

  it('exits at once on the second signal', async () => {
    const startedAt = performance.now();
    expect(await endingOf('stuck', ['SIGTERM', 'SIGTERM'])).toMatchObject({ did: ['server'], code: 1 });
    expect(performance.now() - startedAt).toBeLessThan(15_000);
  });
});
