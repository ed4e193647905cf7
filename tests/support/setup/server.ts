import { execFile } from 'node:child_process';
import { promisify } from 'node:util';
import { once } from './once.ts';

const run = promisify(execFile);

/** Compiles the service into `dist/`, as `npm start` does, once for the whole run; not when `GRIDWORTHY_DIST` names a build. */
export default async function setup(): Promise<(() => Promise<void>) | undefined> {
  if (process.env['GRIDWORTHY_DIST'] !== undefined) return undefined;
  const { release } = await once('server', async () => {
    const compiler = 'node_modules/typescript/bin/tsc';
    await run(process.execPath, [compiler, '-p', 'src/tsconfig.build.json']).catch((error: unknown) => {
      throw new Error(`the build failed: ${(error as { stdout?: string }).stdout ?? String(error)}`);
    });
    return { stop: async () => undefined };
  });
  return release;
}
