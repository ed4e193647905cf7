import { join } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';
import { buildWhatChanged, canBuild } from './build.mjs';

// `node src/run.mjs src/server.js …`: compiles what changed, where there are sources, and runs a compiled program in
// this same process with the arguments that follow its name.
const [node, , program, ...rest] = process.argv;
const path = join(fileURLToPath(new URL('../dist/', import.meta.url)), program);
try {
  if (canBuild()) buildWhatChanged((text) => process.stderr.write(`${text}\n`));
} catch (error) {
  process.stderr.write(`${error.message}\n`);
  process.exit(1);
}
process.argv = [node, path, ...rest];
await import(pathToFileURL(path).href);
