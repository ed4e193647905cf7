import { readArchive, sha256 } from './archive.ts';
import { decodeRows, END, End, MANIFEST, Manifest, partOf } from './manifest.ts';

export interface CheckedBackup {
  manifest: Manifest;
  end: End;
}

/**
 * Reads a backup from its first to its last byte and holds everything against its sums, so that nothing of a damaged
 * one is ever written anywhere.
 *
 * @throws Error saying what does not fit
 */
export async function checkBackup(path: string): Promise<CheckedBackup> {
  let manifest: Manifest | undefined;
  let end: End | undefined;
  const files: { name: string; sha256: string }[] = [];
  const rows: Record<string, number> = {};
  let photos = 0;
  for await (const { name, bytes } of readArchive(path)) {
    if (end !== undefined) throw new Error(`it goes on after its end, with ${name}`);
    if (name === END) {
      end = End.parse(JSON.parse(bytes.toString('utf8')));
      continue;
    }
    files.push({ name, sha256: sha256(bytes) });
    if (name === MANIFEST) manifest = parseManifest(bytes);
    else if (manifest === undefined) throw new Error('it does not begin with its manifest');
    else photos += countPart(rows, name, bytes);
  }
  if (manifest === undefined) throw new Error('it has no manifest');
  if (end === undefined) throw new Error('it was cut off: its end is missing');
  assertFits({ manifest, end }, { files, rows, photos });
  return { manifest, end };
}

function parseManifest(bytes: Buffer): Manifest {
  const parsed = Manifest.safeParse(JSON.parse(bytes.toString('utf8')));
  if (parsed.success) return parsed.data;
  throw new Error('it was made by a version that this one does not know, or is no backup', { cause: parsed.error });
}

/** Counts the rows of a part of a table; returns 1 for a photo. */
function countPart(rows: Record<string, number>, name: string, bytes: Buffer): 0 | 1 {
  const part = partOf(name);
  if (part === undefined) throw new Error(`there is a file that does not belong to it: ${name}`);
  if ('photo' in part) {
    if (sha256(bytes) !== part.photo) throw new Error(`photo ${part.photo} is not what was stored`);
    return 1;
  }
  rows[part.table] = (rows[part.table] ?? 0) + decodeRows(bytes).length;
  return 0;
}

function assertFits(
  { manifest, end }: CheckedBackup,
  found: { files: readonly { name: string; sha256: string }[]; rows: Record<string, number>; photos: number },
): void {
  const changed = found.files.find(
    ({ name, sha256: sum }, i) => end.files[i]?.name !== name || end.files[i].sha256 !== sum,
  );
  if (changed !== undefined) throw new Error(`${changed.name} was changed`);
  if (found.files.length !== end.files.length) throw new Error('files are missing');
  if (found.photos !== end.photos) throw new Error('photos are missing');
  const named = new Set(manifest.tables.map((table) => table.name));
  for (const table of new Set([...named, ...Object.keys(end.rows), ...Object.keys(found.rows)])) {
    const fits = named.has(table) && (found.rows[table] ?? 0) === end.rows[table];
    if (!fits) throw new Error(`the rows of ${table} are not those that were written`);
  }
}
