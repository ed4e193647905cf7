import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { open, rm, statfs } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pause } from './request.ts';

/** A disk that a test can fill, at a folder. */
export interface SmallDisk {
  /** Leaves no room on it for a while. */
  fill(forMs: number): Promise<void>;
  unmount(): void;
}

export const NO_SMALL_DISK = 'disk full: this user may not mount a tmpfs';

/** Whether a small disk can be had here; says so when it cannot. */
export function hasSmallDisk(): boolean {
  const folder = mkdtempSync(join(tmpdir(), 'gridworthy-disk-'));
  const disk = mountSmallDisk(folder, '1m');
  disk?.unmount();
  rmSync(folder, { recursive: true });
  if (disk === undefined) process.stdout.write(`SKIPPED: ${NO_SMALL_DISK}\n`);
  return disk !== undefined;
}

/** Mounts a small disk in memory; `undefined` where the system does not let us (only root may). */
export function mountSmallDisk(folder: string, size: `${number}m`): SmallDisk | undefined {
  try {
    execFileSync('mount', ['-t', 'tmpfs', '-o', `size=${size},mode=0711`, 'tmpfs', folder], { stdio: 'ignore' });
  } catch {
    return undefined;
  }
  return {
    async fill(forMs) {
      const filler = join(folder, 'filler');
      try {
        await fillUp(filler);
        // What is freed meanwhile is taken as well, or the disk would be full only at the first instant.
        for (const until = performance.now() + forMs; performance.now() < until; await pause(100)) await fillUp(filler);
      } finally {
        await rm(filler, { force: true });
      }
    },
    // Lazily: a run that is interrupted may be writing to it.
    unmount: () => void execFileSync('umount', ['-l', folder]),
  };
}

/** Appends to a file until nothing fits any more, to the last block. */
async function fillUp(path: string): Promise<void> {
  const { bavail, bsize } = await statfs(join(path, '..'));
  const file = await open(path, 'a');
  try {
    let size = 256 * 1024;
    for (let left = bavail * bsize + size; left > 0 && size >= bsize; left -= size) {
      const { bytesWritten } = await file.write(Buffer.alloc(size)).catch(whenFull);
      if (bytesWritten < size) size /= 2;
    }
  } finally {
    await file.close();
  }
}

function whenFull(error: NodeJS.ErrnoException): { bytesWritten: number } {
  if (error.code !== 'ENOSPC') throw error;
  return { bytesWritten: 0 };
}
