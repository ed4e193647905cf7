import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { dirname } from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import { inject } from 'vitest';
import './setup/threads.ts';

const root = dirname(dirname(dirname(fileURLToPath(import.meta.url))));

/** Where a program of `setup/threads.ts` lies, compiled. */
export const programFile = (program: string): string =>
  fileURLToPath(new URL(`${program}.mjs`, inject('threadFolder')));

export type Child = {
  process: ChildProcess;
  /** The first line that the child wrote, parsed as JSON. */
  said: Record<string, unknown>;
  /** Hears the lines after the first, from the start. */
  lines(listener: (line: string) => void): void;
  /** Settles when the process has ended and all its lines were heard. */
  ended: Promise<unknown>;
  /** Sends a signal and waits for the end. */
  end(signal: NodeJS.Signals): Promise<void>;
};

/** Runs a program of `setup/threads.ts`, by its name, as a process of its own and waits for its first line. */
export async function startChild(
  program: string,
  args: readonly string[],
  user?: { uid: number; gid: number },
): Promise<Child> {
  const child = spawn(process.execPath, [programFile(program), ...args], {
    cwd: root,
    env: { PATH: process.env['PATH'] },
    stdio: ['ignore', 'pipe', 'inherit'],
    ...user,
  });
  const ended = once(child, 'close');
  const heard: string[] = [];
  const listeners: ((line: string) => void)[] = [];
  const first = new Promise<string>((resolve, reject) => {
    createInterface({ input: child.stdout }).on('line', (line) => {
      heard.push(line);
      resolve(line);
      if (heard.length > 1) for (const listener of listeners) listener(line);
    });
    void ended.then(([code]) => reject(new Error(`${program} ended with ${code} before it said anything`)));
  });
  const said = JSON.parse(await first) as Record<string, unknown>;
  return {
    process: child,
    said,
    lines(listener) {
      for (const line of heard.slice(1)) listener(line);
      listeners.push(listener);
    },
    ended,
    async end(signal) {
      if (child.exitCode === null && child.signalCode === null) child.kill(signal);
      await ended;
    },
  };
}
