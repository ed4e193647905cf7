import { mkdtemp, readdir, readFile, rm, utimes, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { buildApp } from '../../src/app.ts';
import { openPhotoStore } from '../../src/deps.ts';
import { removeOrphanPhotos } from '../../src/features/declare/photos/read.ts';
import { contentHash, photoPath, PhotoStoreError } from '../../src/platform/photos/photo-store.ts';
import { startTestApp, TEST_NOW, type TestApp } from '../support/app.ts';
import { startChild } from '../support/child.ts';
import { createTestEntry, createTestEvent, type TestEvent } from '../support/event.ts';
import { startFakeObjectStore } from '../support/fake-object-store.ts';
import { makePhoto, sendPhoto } from '../support/photos.ts';
import { actionsOf } from '../support/records.ts';

let t: TestApp;
let event: TestEvent;
let root: string;

beforeAll(async () => {
  t = await startTestApp({ own: true });
  event = await createTestEvent(t);
  root = join(t.deps.config.dataDir, 'photos');
});
afterAll(() => t.close());

/** Hashes of all files in the folder. */
async function files(): Promise<string[]> {
  const folders = (await readdir(root)).filter((name) => name.length === 2);
  return (await Promise.all(folders.map((name) => readdir(join(root, name))))).flat().toSorted();
}
/** Makes a file look as if it had been put so many days before the instant of the test. */
async function age(hash: string, days: number): Promise<void> {
  const at = new Date(new Date(TEST_NOW).getTime() - days * 86_400_000);
  await utimes(join(root, photoPath(hash)), at, at);
}
/** Puts a file that no row names. */
async function orphan(days: number, text: string): Promise<string> {
  const bytes = Buffer.from(text);
  const hash = contentHash(bytes);
  await t.deps.photos.put(hash, bytes);
  await age(hash, days);
  return hash;
}
async function sent(seed: number) {
  const entry = await createTestEntry(t, event);
  const { body, status } = await sendPhoto(t, entry.entrant, entry.entryId, await makePhoto({ seed }));
  expect(status).toBe(201);
  return { entry, photoId: body.photoId as string, hash: body.contentHash as string };
}

test('photos outlive the process', async () => {
  const { photoId, hash } = await sent(1);
  const restarted = await buildApp({ ...t.deps, photos: openPhotoStore(t.deps.config) });
  try {
    const { token } = await t.mint('marshal');
    const answer = await restarted.inject({
      url: `/v1/photos/${photoId}`,
      headers: { authorization: `Bearer ${token}` },
    });
    expect(answer.statusCode).toBe(200);
    expect(contentHash(answer.rawPayload)).toBe(hash);
  } finally {
    await restarted.close();
  }
});

test('a process that is killed between file and row leaves no row, and a repeat is kept', async () => {
  const entry = await createTestEntry(t, event);
  const photo = await makePhoto({ seed: 2 });
  const picture = join(t.deps.config.dataDir, 'picture');
  await writeFile(picture, photo);
  const before = (await files()).length;
  const facts = [t.databaseUrl, t.deps.config.dataDir, entry.entryId, entry.entrant.tokenId, picture];
  const child = await startChild('photo-child', facts);
  await child.ended;
  expect(child.process.signalCode).toBe('SIGKILL');
  expect(await files()).toHaveLength(before + 1);
  expect(await t.deps.db.prisma.photo.count({ where: { entryId: entry.entryId } })).toBe(0);
  expect(await actionsOf(t, entry.entryId)).toEqual(['entry.created']);
  const again = await sendPhoto(t, entry.entrant, entry.entryId, photo);
  expect(again.status).toBe(201);
  expect(await files()).toHaveLength(before + 1);
  expect(await readFile(join(root, photoPath(again.body.contentHash)))).toHaveLength(again.body.bytes);
});

test('a store that fails is told as such, and leaves no row', async () => {
  const entry = await createTestEntry(t, event);
  const { put } = t.deps.photos;
  try {
    t.deps.photos.put = async () => {
      throw new PhotoStoreError('disk full', { cause: Object.assign(new Error('no space'), { code: 'ENOSPC' }) });
    };
    const answer = await sendPhoto(t, entry.entrant, entry.entryId, await makePhoto({ seed: 3 }));
    expect([answer.status, answer.body.code]).toEqual([503, 'photo-store-unavailable']);
    expect(answer.headers['retry-after']).toBe('30');
    expect(answer.text).not.toContain('disk');
    expect(await t.deps.db.prisma.photo.count({ where: { entryId: entry.entryId } })).toBe(0);
  } finally {
    t.deps.photos.put = put;
  }
});

describe('tidying', () => {
  test('removes what nobody names and nobody put since a day, and nothing else', async () => {
    const named = await sent(10);
    await age(named.hash, 400);
    const removed = await sent(11);
    await t.api(removed.entry.entrant).delete(`/v1/photos/${removed.photoId}`).expect(204);
    await age(removed.hash, 400);
    const old = await orphan(2, 'old orphan');
    const young = await orphan(0.9, 'young orphan');
    expect(await removeOrphanPhotos(t.deps)).toBe(1);
    expect(await files()).toEqual(expect.arrayContaining([named.hash, removed.hash, young]));
    expect(await files()).not.toContain(old);
    expect(await removeOrphanPhotos(t.deps)).toBe(0);
    // A removed photo is kept for 30 days.
    await t.deps.db.prisma.photo.update({
      where: { id: removed.photoId },
      data: { removedAt: new Date(new Date(TEST_NOW).getTime() - 31 * 86_400_000) },
    });
    expect(await removeOrphanPhotos(t.deps)).toBe(1);
    expect(await files()).not.toContain(removed.hash);
    expect(await files()).toContain(named.hash);
  });

  test('does not take a photo that is being sent: every row that is written has its file', async () => {
    const entry = await createTestEntry(t, event);
    for (let round = 0; round < 8; round += 1) {
      const photo = await makePhoto({ seed: 100 + round });
      const first = await sendPhoto(t, entry.entrant, entry.entryId, photo);
      await t.deps.db.prisma.photo.deleteMany({ where: { id: first.body.photoId } });
      await age(first.body.contentHash, 2);
      const [again] = await Promise.all([
        sendPhoto(t, entry.entrant, entry.entryId, photo),
        removeOrphanPhotos(t.deps),
        removeOrphanPhotos(t.deps),
      ]);
      expect(again.status).toBe(201);
      expect(await t.deps.photos.get(again.body.contentHash), `round ${round}`).toBeDefined();
    }
  });

  test('leaves the folder of another database alone', async () => {
    const dataDir = await mkdtemp(join(tmpdir(), 'gridworthy-foreign-'));
    try {
      const photos = openPhotoStore({ photoBucket: undefined, dataDir });
      expect(await photos.folder?.claim('another database')).toBe(true);
      const bytes = Buffer.from('a photo of theirs');
      await photos.put(contentHash(bytes), bytes);
      const long = new Date(0);
      await utimes(join(dataDir, 'photos', photoPath(contentHash(bytes))), long, long);
      expect(await removeOrphanPhotos({ ...t.deps, photos })).toBe(0);
      expect(await photos.get(contentHash(bytes))).toEqual(bytes);
    } finally {
      await rm(dataDir, { recursive: true, force: true });
    }
  });
});

test('with an object store photos lie there, and the chore has nothing to do', async () => {
  const fake = await startFakeObjectStore();
  const own = await startTestApp({ config: { photoBucket: fake.bucket } });
  try {
    const entry = await createTestEntry(own, await createTestEvent(own));
    const { body, status } = await sendPhoto(own, entry.entrant, entry.entryId, await makePhoto());
    expect(status).toBe(201);
    expect([...fake.objects.keys()]).toEqual([`/evidence/club/2026/${photoPath(body.contentHash)}`]);
    const seen = await own.api('marshal').get(`/v1/photos/${body.photoId}`).buffer(true).responseType('blob');
    expect(contentHash(seen.body)).toBe(body.contentHash);
    expect(await removeOrphanPhotos(own.deps)).toBe(0);
    await expect(readdir(join(own.deps.config.dataDir, 'photos'))).rejects.toThrow('ENOENT');
    fake.failNext.push(500, 500, 500);
    const down = await own.api('marshal').get(`/v1/photos/${body.photoId}`);
    expect([down.status, down.body.code]).toEqual([503, 'photo-store-unavailable']);
  } finally {
    await own.close();
    await fake.close();
  }
});
