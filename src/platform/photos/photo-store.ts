import { createHash } from 'node:crypto';

/** Where photos lie, each under the SHA-256 of its content. */
export interface PhotoStore {
  /**
   * Keeps bytes under their hash. When this returns they are safe; doing it again does no harm.
   *
   * @throws PhotoStoreError
   */
  put(hash: string, bytes: Buffer): Promise<void>;
  /**
   * The bytes of a hash, compared with it; `undefined` when there are none.
   *
   * @throws PhotoStoreError, also when what lies there is not what was put
   */
  get(hash: string): Promise<Buffer | undefined>;
  /** the same store as a folder of this machine, which must be tidied; absent where there is nothing to tidy */
  folder?: PhotoFolder;
}

/** What tidying a folder of photos needs. Instants are compared with the clock of the file system. */
export interface PhotoFolder {
  /** Whether anything was ever put there. */
  exists(): Promise<boolean>;
  /** Whether the folder belongs to this owner; the first to ask owns it. Two databases must not tidy one folder. */
  claim(owner: string): Promise<boolean>;
  /** Hashes of photos that nobody put since, a few hundred at a time. */
  listOlderThan(before: Date): AsyncIterable<string[]>;
  /** Removes a photo unless somebody put it (again) since; returns whether it is gone. */
  removeOlderThan(hash: string, before: Date): Promise<boolean>;
  /** Removes what interrupted writes left, and brings back what an interrupted removal took away. */
  recover(before: Date): Promise<void>;
}

/** The store cannot be reached, is full, or gave back something else. Trying again may help. */
export class PhotoStoreError extends Error {
  constructor(message: string, options?: ErrorOptions) {
    super(message, options);
    this.name = 'PhotoStoreError';
  }
}

/** The name of a content: its SHA-256 in hexadecimal. */
export function contentHash(bytes: Buffer): string {
  return createHash('sha256').update(bytes).digest('hex');
}

/**
 * The place of a hash below the root of a store: `ab/abcd…`.
 *
 * @throws PhotoStoreError when it is no hash, so that no other text ever becomes a path
 */
export function photoPath(hash: string): string {
  if (!/^[0-9a-f]{64}$/.test(hash)) throw new PhotoStoreError('not a content hash');
  return `${hash.slice(0, 2)}/${hash}`;
}

/** @throws PhotoStoreError when the bytes are not those of the hash */
export function assertContent(hash: string, bytes: Buffer): Buffer {
  if (contentHash(bytes) !== hash) throw new PhotoStoreError(`photo ${hash} is not what was stored`);
  return bytes;
}
