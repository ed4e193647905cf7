import { execFileSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { DockerfileParser, type Instruction } from 'dockerfile-ast';

const ROOT = new URL('../..', import.meta.url).pathname;

/**
 * A file system that looks like this machine's, keeps what is written to itself, and goes away: what a layer of an image
 * is. Linux and root only. The base image of a Dockerfile is not in it: commands meet the Debian and the Node.js of this
 * machine.
 */
export interface Layer {
  /** folder of this machine with what was written inside */
  written: string;
  /** Runs a command of a shell inside. @throws Error when it fails */
  run(command: string, cwd: string): string;
  /** what `unshare` is started with, to run a command inside as a container would */
  confined(command: readonly string[], options: Confined): string[];
  remove(): void;
}

interface Confined {
  cwd: string;
  uid: number;
  env: Record<string, string>;
  /** folders of this machine by where they are seen inside; but for them and `/tmp`, nothing can be written */
  volumes: Record<string, string>;
}

export function openLayer(): Layer {
  const home = mkdtempSync(join(tmpdir(), 'gridworthy-image-'));
  const at = (name: string) => join(home, name);
  for (const name of ['written', 'work', 'merged']) mkdirSync(at(name));
  const merged = at('merged');
  const mounted = [
    `mount -t overlay overlay -o 'lowerdir=/,upperdir=${at('written')},workdir=${at('work')}' '${merged}'`,
    ...['proc', 'dev'].map((name) => `mount --rbind '/${name}' '${merged}/${name}'`),
  ];
  const enter = `exec chroot '${merged}' sh -c 'cd "$1" && shift && exec "$@"' sh "$@"`;
  const unshared = (lines: readonly string[], cwd: string, command: readonly string[]) => [
    '--mount',
    '--propagation=private',
    'sh',
    '-euc',
    [...mounted, ...lines, enter].join('\n'),
    'sh',
    cwd,
    ...command,
  ];
  return {
    written: at('written'),
    run(command, cwd) {
      const made = `mkdir -p '${merged}${cwd}'`;
      return execFileSync('unshare', unshared([made], cwd, ['sh', '-eu', '-c', command]), {
        encoding: 'utf8',
        stdio: ['ignore', 'pipe', 'pipe'],
      });
    },
    confined(command, { cwd, uid, env, volumes }) {
      const binds = Object.entries(volumes).flatMap(([inside, folder]) => [
        `mkdir -p '${merged}${inside}'`,
        `mount --bind '${folder}' '${merged}${inside}'`,
      ]);
      const restricted = [
        'setpriv',
        `--reuid=${uid}`,
        `--regid=${uid}`,
        '--clear-groups',
        '--no-new-privs',
        '--bounding-set=-all',
        '--inh-caps=-all',
        'env',
        '-i',
        ...Object.entries(env).map(([key, value]) => `${key}=${value}`),
      ];
      const readOnly = [`mount -t tmpfs tmpfs '${merged}/tmp'`, ...binds, `mount -o remount,bind,ro '${merged}'`];
      return unshared(readOnly, cwd, [...restricted, ...command]);
    },
    remove: () => rmSync(home, { recursive: true, force: true }),
  };
}

/** The stages of a Dockerfile with their instructions, in order. */
export function stagesOf(text: string): Instruction[][] {
  const stages: Instruction[][] = [];
  for (const one of DockerfileParser.parse(text).getInstructions()) {
    if (one.getKeyword() === 'FROM') stages.push([]);
    stages.at(-1)?.push(one);
  }
  return stages;
}

/** Puts the files of the last commit into a folder, and nothing else: a clean clone. */
export function cleanCopy(folder: string): void {
  mkdirSync(folder, { recursive: true });
  const archive = execFileSync('git', ['archive', 'HEAD'], { cwd: ROOT, maxBuffer: 200 * 1024 * 1024 });
  execFileSync('tar', ['x', '-C', folder], { input: archive });
}
