import { link, readFile, rename, rm, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { pause } from '../wait.ts';
import { CannotStart } from '../start-checks.ts';
import { type ProcessIdentity, identify, isAlive } from './process-identity.ts';

/** Thrown when another living process works on the same folder. */
export class FolderInUseError extends CannotStart {
  constructor(folder: string, pid: number) {
    super(
      `${folder} is in use by another server (process ${pid}). Stop it, or give this one its own DATA_DIR, ` +
        'or run PostgreSQL on its own and set DATABASE_URL for both.',
    );
    this.name = 'FolderInUseError';
  }
}

const TRIES = 50;

/**
 * Takes the folder for this process: `server.lock` names its holder. A lock whose holder is gone, or whose process number
 * now belongs to another process, is taken over.
 *
 * @returns a function that gives the folder back
 * @throws FolderInUseError when a living process holds it
 */
export async function lockFolder(folder: string): Promise<() => Promise<void>> {
  const path = join(folder, 'server.lock');
  const me = identify(process.pid);
  if (me === undefined) throw new Error('cannot read the identity of this process');
  const draft = `${path}.${process.pid}`;
  await writeFile(draft, JSON.stringify(me), { mode: 0o644 });
  try {
    for (let attempt = 0; attempt < TRIES; attempt += 1) {
      if (await takeFree(draft, path)) return () => release(path, me);
      await refuseIfHeld(folder, path);
      if (await takeOver(draft, path, folder)) return () => release(path, me);
      await pause(20);
    }
    throw new Error(`Cannot take ${path}; remove it and ${path}.takeover if no server runs`);
  } finally {
    await rm(draft, { force: true });
  }
}

// A link to a finished file appears at once with its content, and only if nothing stands there.
async function takeFree(draft: string, path: string): Promise<boolean> {
  return link(draft, path).then(
    () => true,
    (error: NodeJS.ErrnoException) => {
      if (error.code === 'EEXIST') return false;
      throw error;
    },
  );
}

// Only who holds the takeover mark may replace a stale lock, so that of two starters one sees the other's new lock.
async function takeOver(draft: string, path: string, folder: string): Promise<boolean> {
  const mark = `${path}.takeover`;
  if (!(await takeFree(draft, mark))) {
    const marker = await readHolder(mark);
    if (marker === undefined || !isAlive(marker)) await rm(mark, { force: true });
    return false;
  }
  try {
    await refuseIfHeld(folder, path);
    const copy = `${draft}.new`;
    await writeFile(copy, await readFile(draft));
    await rename(copy, path);
    return true;
  } finally {
    await rm(mark, { force: true });
  }
}

async function refuseIfHeld(folder: string, path: string): Promise<void> {
  const holder = await readHolder(path);
  if (holder !== undefined && isAlive(holder)) throw new FolderInUseError(folder, holder.pid);
}

async function release(path: string, me: ProcessIdentity): Promise<void> {
  const holder = await readHolder(path);
  if (holder?.pid === me.pid && holder.startedAt === me.startedAt) await rm(path, { force: true });
}

async function readHolder(path: string): Promise<ProcessIdentity | undefined> {
  try {
    const { pid, startedAt } = JSON.parse(await readFile(path, 'utf8')) as Partial<ProcessIdentity>;
    return typeof pid === 'number' && typeof startedAt === 'string' ? { pid, startedAt } : undefined;
  } catch {
    // Missing or damaged: nobody who lives can be named by it.
    return undefined;
  }
}
