import { mkdir, mkdtemp, readdir, readFile, rm, stat, utimes, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import {
  contentHash,
  openPhotoBucket,
  openPhotoFolder,
  type PhotoFolder,
  type PhotoStore,
  PhotoStoreError,
} from '../../../../src/platform/photos/photo-store.ts';
import { type FakeObjectStore, startFakeObjectStore } from '../../../support/fake-object-store.ts';

const BYTES = Buffer.from('a picture');
const HASH = contentHash(BYTES);
const DAY_MS = 86_400_000;
const yesterday = () => new Date(Date.now() - DAY_MS);

test('a content is named by its SHA-256', () => {
  // FIPS 180-4 examples: SHA-256 of "abc"
  expect(contentHash(Buffer.from('abc'))).toBe('ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad');
});

describe('a folder', () => {
  let root: string;
  let store: PhotoStore;
  let folder: PhotoFolder;
  const path = () => join(root, HASH.slice(0, 2), HASH);
  const age = (file: string, days: number) => {
    const at = new Date(Date.now() - days * DAY_MS);
    return utimes(file, at, at);
  };
  const listed = async () => {
    const all: string[] = [];
    for await (const hashes of folder.listOlderThan(yesterday())) all.push(...hashes);
    return all;
  };

  beforeEach(async () => {
    root = join(await mkdtemp(join(tmpdir(), 'gridworthy-photos-')), 'photos');
    const opened = openPhotoFolder(root);
    store = opened;
    folder = opened.folder;
  });
  afterEach(() => rm(join(root, '..'), { recursive: true, force: true }));

  test('is touched by nothing but use, and read before it is there', async () => {
    await expect(stat(root)).rejects.toThrow('ENOENT');
    expect(await store.get(HASH)).toBeUndefined();
    expect(await listed()).toEqual([]);
    expect(await folder.exists()).toBe(false);
    await folder.recover(yesterday());
    await expect(stat(root)).rejects.toThrow('ENOENT');
  });

  test('keeps bytes under their hash, once, and leaves nothing half-written', async () => {
    await Promise.all([store.put(HASH, BYTES), store.put(HASH, BYTES), store.put(HASH, BYTES)]);
    expect(await readFile(path())).toEqual(BYTES);
    expect(await store.get(HASH)).toEqual(BYTES);
    expect(await readdir(join(root, HASH.slice(0, 2)))).toEqual([HASH]);
    expect(await readdir(join(root, 'incoming'))).toEqual([]);
  });

  test('does not give what is not what was put, and is mended by putting it again', async () => {
    await store.put(HASH, BYTES);
    await writeFile(path(), 'another picture');
    await expect(store.get(HASH)).rejects.toBeInstanceOf(PhotoStoreError);
    await store.put(HASH, BYTES);
    expect(await store.get(HASH)).toEqual(BYTES);
  });

  test.each(['', '..', '../../etc/passwd', 'ab/../../x', HASH.toUpperCase(), `${HASH}/x`, `${HASH}\n`])(
    'takes no name but a hash: %j',
    async (name) => {
      await expect(store.get(name)).rejects.toBeInstanceOf(PhotoStoreError);
      await expect(store.put(name, BYTES)).rejects.toBeInstanceOf(PhotoStoreError);
    },
  );

  test('that cannot be written says so in its own words', async () => {
    await mkdir(join(root, '..'), { recursive: true });
    await writeFile(root, 'a file where the folder should be');
    await expect(store.put(HASH, BYTES)).rejects.toBeInstanceOf(PhotoStoreError);
    await expect(store.get(HASH)).rejects.toBeInstanceOf(PhotoStoreError);
    await expect(folder.claim('one')).rejects.toBeInstanceOf(PhotoStoreError);
  });

  test('belongs to who asked first', async () => {
    expect(await Promise.all([folder.claim('one'), folder.claim('one')])).toEqual([true, true]);
    expect(await folder.claim('two')).toBe(false);
    expect(await folder.claim('one')).toBe(true);
  });

  test('lists and removes what nobody put since, and nothing younger', async () => {
    await store.put(HASH, BYTES);
    expect(await listed()).toEqual([]);
    expect(await folder.removeOlderThan(HASH, yesterday())).toBe(false);
    expect(await store.get(HASH)).toEqual(BYTES);
    await age(path(), 2);
    expect(await listed()).toEqual([HASH]);
    expect(await folder.removeOlderThan(HASH, yesterday())).toBe(true);
    expect(await store.get(HASH)).toBeUndefined();
    expect(await readdir(join(root, 'outgoing'))).toEqual([]);
    expect(await folder.removeOlderThan(HASH, yesterday())).toBe(false);
  });

  test('never loses what is put while it is being removed, in whatever order the two come', async () => {
    for (let round = 0; round < 150; round += 1) {
      await store.put(HASH, BYTES);
      await age(path(), 2);
      await Promise.all([
        store.put(HASH, BYTES),
        folder.removeOlderThan(HASH, yesterday()),
        folder.removeOlderThan(HASH, yesterday()),
        folder.recover(yesterday()),
      ]);
      expect(await store.get(HASH), `round ${round}`).toEqual(BYTES);
    }
  });

  test('brings back what a removal took away that was killed, and clears what a write left', async () => {
    await store.put(HASH, BYTES);
    await mkdir(join(root, 'outgoing'));
    const aside = join(root, 'outgoing', `${HASH}.0f`);
    await writeFile(aside, await readFile(path()));
    await rm(path());
    await writeFile(join(root, 'incoming', 'old'), 'half');
    await age(join(root, 'incoming', 'old'), 2);
    await writeFile(join(root, 'incoming', 'new'), 'half');
    await folder.recover(yesterday());
    expect(await store.get(HASH)).toEqual(BYTES);
    expect(await readdir(join(root, 'outgoing'))).toEqual([]);
    expect(await readdir(join(root, 'incoming'))).toEqual(['new']);
  });
});

describe('an object store', () => {
  let fake: FakeObjectStore;
  let store: PhotoStore;
  const key = `/evidence/club/2026/${HASH.slice(0, 2)}/${HASH}`;

  beforeEach(async () => {
    fake = await startFakeObjectStore();
    store = openPhotoBucket(fake.bucket);
  });
  afterEach(() => fake.close());

  test('keeps bytes under bucket, prefix and hash, with signed requests', async () => {
    await store.put(HASH, BYTES);
    expect(fake.objects.get(key)).toEqual({ bytes: BYTES, mediaType: 'image/jpeg' });
    expect(await store.get(HASH)).toEqual(BYTES);
    expect(fake.asked).toEqual([`PUT ${key}`, `GET ${key}`]);
  });

  test('without a prefix keeps them at the top of the bucket', async () => {
    await openPhotoBucket({ ...fake.bucket, prefix: '' }).put(HASH, BYTES);
    expect([...fake.objects.keys()]).toEqual([`/evidence/${HASH.slice(0, 2)}/${HASH}`]);
  });

  test('gives nothing for what is not there, and is not tidied', async () => {
    expect(await store.get(HASH)).toBeUndefined();
    expect(store.folder).toBeUndefined();
  });

  test('is asked again when it fails, and three times at most', async () => {
    fake.failNext.push(503, 500);
    await store.put(HASH, BYTES);
    expect(fake.asked).toHaveLength(3);
    fake.failNext.push(503, 503, 503);
    await expect(store.get(HASH)).rejects.toBeInstanceOf(PhotoStoreError);
    expect(fake.asked).toHaveLength(6);
  });

  test('that refuses, redirects or is not there is an error of the store', async () => {
    const wrong = openPhotoBucket({ ...fake.bucket, secretAccessKey: 'another' });
    await expect(wrong.put(HASH, BYTES)).rejects.toThrow('403');
    await expect(wrong.get(HASH)).rejects.toThrow('403');
    fake.failNext.push(302);
    await expect(store.get(HASH)).rejects.toBeInstanceOf(PhotoStoreError);
    const nowhere = openPhotoBucket({ ...fake.bucket, endpoint: 'http://127.0.0.1:9' });
    await expect(nowhere.put(HASH, BYTES)).rejects.toBeInstanceOf(PhotoStoreError);
    expect(fake.objects.size).toBe(0);
  });

  test('that gives back something else is not believed', async () => {
    await store.put(HASH, BYTES);
    fake.objects.set(key, { bytes: Buffer.from('another picture'), mediaType: 'image/jpeg' });
    await expect(store.get(HASH)).rejects.toBeInstanceOf(PhotoStoreError);
  });
});
