import { readFile } from 'node:fs/promises';
import { loadConfig } from '../../src/config.ts';
import { openDeps } from '../../src/deps.ts';
import { addPhoto, createConverter } from '../../src/features/declare/photos/add.ts';
import { createLogger } from '../../src/platform/logger.ts';

// A process that adds a photo and is killed when the file is safe and the row is not written yet.
const [databaseUrl = '', dataDir = '', entryId = '', tokenId = '', picture = ''] = process.argv.slice(2);
const deps = openDeps({ ...loadConfig({}), dataDir }, databaseUrl, createLogger({ level: 'silent' }));
const { put } = deps.photos;
deps.photos = {
  ...deps.photos,
  put: async (hash, bytes) => {
    await put(hash, bytes);
    process.kill(process.pid, 'SIGKILL');
    await new Promise(() => undefined);
  },
};
process.stdout.write(`${JSON.stringify({ ready: true })}\n`);
const sent = { bytes: await readFile(picture), mediaType: 'image/jpeg' };
const upload = { entryId, item: 'pad.thickness', position: undefined, sent, requestId: 'killed' };
await addPhoto(
  deps,
  { tokenId, role: 'entrant', name: 'Test', entryId },
  upload,
  createConverter({ maxPixels: 1_000_000 }),
);
