import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

/** The folder of the project, also when this file was compiled into `dist`. */
export function projectFolder(): string {
  const root = join(dirname(fileURLToPath(import.meta.url)), '..', '..', '..');
  return root.endsWith('dist') ? dirname(root) : root;
}
