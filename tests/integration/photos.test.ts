import { randomUUID } from 'node:crypto';
import sharp from 'sharp';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { contentHash } from '../../src/platform/photos/photo-store.ts';
import { startTestApp, TEST_NOW, type TestApp } from '../support/app.ts';
import { accept, claim, createTestEntry, createTestEvent, signOff, submit, type TestEvent } from '../support/event.ts';
import { makePhoto, pngHeaderOf, sendPhoto } from '../support/photos.ts';
import { actionsOf, historyOf } from '../support/records.ts';

let t: TestApp;
let event: TestEvent;
let photo: Buffer;

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t);
  photo = await makePhoto();
});
afterAll(() => t.close());
afterEach(() => t.clock.set(TEST_NOW));

const rowsOf = (entryId: string) => t.deps.db.prisma.photo.findMany({ where: { entryId } });
const newEntry = () => createTestEntry(t, event);
const seen = (answer: { body: Buffer }) => answer.body;
const look = (as: Parameters<TestApp['api']>[0], photoId: string) =>
  t.api(as).get(`/v1/photos/${photoId}`).buffer(true).responseType('blob');

describe('adding a photo', () => {
  test('keeps a picture without its metadata, writes row and history, and says where it is', async () => {
    const entry = await newEntry();
    const exif = { IFD0: { Make: 'left-over' }, IFD3: { GPSLatitudeRef: 'N', GPSLatitude: '52/1 31/1 12/1' } };
    const sent = await sharp(photo).withExif(exif).jpeg().toBuffer();
    const answer = await sendPhoto(t, entry.entrant, entry.entryId, sent, { position: 'FL.in' });
    expect(answer.status, answer.text).toBe(201);
    const { photoId, contentHash: hash } = answer.body;
    expect(answer.headers['location']).toBe(`/v1/photos/${photoId}`);
    expect(answer.body).toMatchObject({
      entryId: entry.entryId,
      item: 'pad.thickness',
      position: 'FL.in',
      mediaType: 'image/jpeg',
      width: 64,
      height: 48,
      uploadedBy: { role: 'entrant', name: entry.entrant.holder },
      uploadedAt: TEST_NOW,
    });
    const picture = seen(await look(entry.entrant, photoId));
    expect(contentHash(picture)).toBe(hash);
    expect(picture.length).toBe(answer.body.bytes);
    expect((await sharp(picture).metadata()).exif).toBeUndefined();
    expect(picture.includes('left-over')).toBe(false);
    expect(await rowsOf(entry.entryId)).toMatchObject([
      { id: photoId, contentHash: hash, uploadedBy: entry.entrant.tokenId },
    ]);
    const last = (await historyOf(t, entry.entryId)).at(-1);
    expect(last).toMatchObject({
      action: 'photo.added',
      actorId: entry.entrant.tokenId,
      data: { photoId, item: 'pad.thickness', position: 'FL.in', hash },
      requestId: answer.headers['x-request-id'],
    });
    const { body } = await t.api('marshal').get(`/v1/entries/${entry.entryId}/history`);
    expect(body.intact).toBe(true);
  });

  test.each(['png', 'webp'] as const)('reads %s too', async (format) => {
    const entry = await newEntry();
    const sent = await makePhoto({ format });
    const answer = await sendPhoto(t, 'inspector', entry.entryId, sent, { type: `image/${format}` });
    expect(answer.status, answer.text).toBe(201);
    expect(answer.body.uploadedBy.role).toBe('inspector');
  });

  test('takes a form with one file, whatever its name says', async () => {
    const entry = await newEntry();
    const send = () => t.api(entry.entrant).post(`/v1/entries/${entry.entryId}/photos?item=pad.thickness`);
    const named = { filename: '../../etc/passwd.html', contentType: 'image/jpeg' };
    expect((await send().attach('anything', photo, named)).status).toBe(201);
    const octets = { filename: 'x', contentType: 'application/octet-stream' };
    expect((await send().attach('file', await makePhoto({ seed: 2 }), octets)).status).toBe(201);
    const html = await send().attach('file', photo, { filename: 'x.jpg', contentType: 'text/html' });
    expect([html.status, html.body.code]).toEqual([415, 'unsupported-media-type']);
    expect(JSON.stringify(await historyOf(t, entry.entryId))).not.toContain('passwd');
    for (const request of [
      send().attach('a', photo, named).attach('b', photo, named),
      send().field('item', 'x'),
      send().field('item', 'x').attach('a', photo, named),
      send().set('content-type', 'multipart/form-data; boundary=x').send('--x--\r\n'),
      send().set('content-type', 'multipart/form-data; boundary=x').send('nonsense'),
      send().set('content-type', 'multipart/form-data').send('nonsense'),
    ]) {
      const answer = await request;
      expect([answer.status, answer.body.code], answer.text).toEqual([400, 'invalid-request']);
    }
    // Something large behind what is refused does not keep the answer from its sender.
    const large = { filename: 'x', contentType: 'image/jpeg' };
    const late = await send().field('item', 'x').attach('a', Buffer.alloc(8_000_000), large);
    expect(late.status).toBe(400);
    expect(await rowsOf(entry.entryId)).toHaveLength(2);
  });

  test('the same picture at the same place again is the photo that is there', async () => {
    const entry = await newEntry();
    const first = await sendPhoto(t, entry.entrant, entry.entryId, photo);
    const again = await sendPhoto(t, 'chief', entry.entryId, photo);
    expect([first.status, again.status]).toEqual([201, 200]);
    expect(again.body).toEqual(first.body);
    const elsewhere = await sendPhoto(t, entry.entrant, entry.entryId, photo, { position: 'FL.in' });
    expect(elsewhere.status).toBe(201);
    expect(elsewhere.body.contentHash).toBe(first.body.contentHash);
    expect(elsewhere.body.photoId).not.toBe(first.body.photoId);
    expect(await actionsOf(t, entry.entryId)).toEqual(['entry.created', 'photo.added', 'photo.added']);
  });

  test('the same picture many times at once is kept once', async () => {
    const entry = await newEntry();
    const sent = await makePhoto({ seed: 40 });
    const answers = await Promise.all(
      Array.from({ length: 6 }, () => sendPhoto(t, entry.entrant, entry.entryId, sent)),
    );
    expect(answers.map((answer) => answer.status).toSorted()).toEqual([200, 200, 200, 200, 200, 201]);
    expect(new Set(answers.map((answer) => answer.body.photoId)).size).toBe(1);
    expect(await rowsOf(entry.entryId)).toHaveLength(1);
  });

  test('a shared picture of two entries is one file and two rows, each with its own entry', async () => {
    const [one, other] = [await newEntry(), await newEntry()];
    const sent = await makePhoto({ seed: 41 });
    const first = await sendPhoto(t, one.entrant, one.entryId, sent);
    const second = await sendPhoto(t, other.entrant, other.entryId, sent);
    expect(first.body.contentHash).toBe(second.body.contentHash);
    expect((await look(one.entrant, second.body.photoId)).status).toBe(404);
    expect((await look(other.entrant, second.body.photoId)).status).toBe(200);
  });
});

describe('refused is', () => {
  test.each([
    ['HTML', '<!doctype html><script>alert(1)</script>', 415],
    ['SVG', '<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"/>', 415],
    ['a GIF', 'GIF89a\u0001\u0000\u0001\u0000', 415],
    ['nothing', '', 415],
    ['the start of a JPEG', '\u00ff\u00d8\u00ff\u00e0', 422],
  ])('%s under the name of a JPEG', async (_what, text, status) => {
    const entry = await newEntry();
    const answer = await sendPhoto(t, entry.entrant, entry.entryId, Buffer.from(text, 'latin1'));
    expect(answer.status, answer.text).toBe(status);
    expect(await rowsOf(entry.entryId)).toEqual([]);
  });

  test('a picture under the name of another type, and an SVG under its own', async () => {
    const entry = await newEntry();
    const mismatch = await sendPhoto(t, entry.entrant, entry.entryId, photo, { type: 'image/png' });
    expect([mismatch.status, mismatch.body.code]).toEqual([415, 'unsupported-media-type']);
    expect(mismatch.body.detail).toBe('This was sent as image/png, but its content is image/jpeg.');
    const svg = await sendPhoto(t, entry.entrant, entry.entryId, Buffer.from('<svg/>'), { type: 'image/svg+xml' });
    expect(svg.status).toBe(415);
    const heic = Buffer.from('\u0000\u0000\u0000\u0018ftypheic\u0000\u0000\u0000\u0000mif1heic', 'latin1');
    const told = await sendPhoto(t, entry.entrant, entry.entryId, heic, { type: 'image/heic' });
    expect(told.body.detail).toMatch(/^HEIC and AVIF pictures are not read here/);
    const bare = await t.api(entry.entrant).post(`/v1/entries/${entry.entryId}/photos?item=pad.thickness`);
    expect([bare.status, bare.body.code]).toEqual([400, 'invalid-request']);
  });

  test('an image bomb, before it is decoded', async () => {
    const entry = await newEntry();
    const bomb = pngHeaderOf(40_000, 40_000);
    const answer = await sendPhoto(t, entry.entrant, entry.entryId, bomb, { type: 'image/png' });
    expect([answer.status, answer.body.code]).toEqual([422, 'photo-not-acceptable']);
    expect(answer.body.detail).toBe('The picture has 40000 × 40000 pixels; at most 50 million.');
  });

  test('a picture that is cut off', async () => {
    const entry = await newEntry();
    const whole = await makePhoto({ width: 900, height: 700 });
    const answer = await sendPhoto(t, entry.entrant, entry.entryId, whole.subarray(0, whole.length - 900));
    expect([answer.status, answer.body.code]).toEqual([422, 'photo-not-acceptable']);
  });

  test('13 MB, bare and in a form', async () => {
    const entry = await newEntry();
    const large = Buffer.concat([photo, Buffer.alloc(13_000_000)]);
    const bare = await sendPhoto(t, entry.entrant, entry.entryId, large);
    expect([bare.status, bare.body.code]).toEqual([413, 'body-too-large']);
    const path = `/v1/entries/${entry.entryId}/photos?item=pad.thickness`;
    const form = await t
      .api(entry.entrant)
      .post(path)
      .attach('file', large, { contentType: 'image/jpeg', filename: 'x' });
    expect([form.status, form.body.code]).toEqual([413, 'body-too-large']);
    expect(await rowsOf(entry.entryId)).toEqual([]);
  });

  test.each([
    ['no-such-item', undefined, '/item', 'unknown-item'],
    ['brake.pedal', 'FL', '/position', 'unknown-position'],
    ['pad.thickness', 'front', '/position', 'unknown-position'],
    ['electric.insulation-resistance', undefined, '/item', 'unknown-item'],
  ])('a photo of what the car does not have: %s %s', async (item, position, pointer, code) => {
    const entry = await newEntry();
    const answer = await sendPhoto(t, entry.entrant, entry.entryId, photo, {
      item,
      ...(position === undefined ? {} : { position }),
    });
    expect(answer.status, answer.text).toBe(422);
    expect(answer.body.errors).toMatchObject([{ pointer, code, in: 'query' }]);
  });

  test('a photo without an item, with an unknown key, of a withdrawn entry, of no entry', async () => {
    const entry = await newEntry();
    const post = (query: string) =>
      t.api('chief').post(`/v1/entries/${entry.entryId}/photos${query}`).set('content-type', 'image/jpeg').send(photo);
    for (const [query, pointer] of [
      ['', '/item'],
      ['?item=', '/item'],
      ['?item=pad.thickness&name=x.jpg', '/name'],
    ] as const) {
      const answer = await post(query);
      expect(answer.status).toBe(400);
      expect(answer.body.errors[0]).toMatchObject({ pointer, in: 'query' });
    }
    await t.api('organizer').post(`/v1/entries/${entry.entryId}/withdraw`).send({}).expect(200);
    const withdrawn = await post('?item=pad.thickness');
    expect([withdrawn.status, withdrawn.body.currentState]).toEqual([409, 'withdrawn']);
    expect((await sendPhoto(t, 'chief', randomUUID(), photo)).status).toBe(404);
  });

  test('more photos than an entry may have; a repeat of the last one is none more', async () => {
    const few = await startTestApp({ config: { photosPerEntry: 2 } });
    try {
      const { entrant, entryId } = await createTestEntry(few, await createTestEvent(few));
      const send = async (seed: number) => sendPhoto(few, entrant, entryId, await makePhoto({ seed }));
      const answers = [await send(1), await send(2), await send(3), await send(2)];
      expect(answers.map((answer) => answer.status)).toEqual([201, 201, 409, 200]);
      expect(answers[2]?.body.code).toBe('too-many-photos');
      // Room is made by removing one, but not for ever: the files of removed ones are kept for a while.
      let last = answers[1]?.body.photoId as string;
      for (let i = 0; i < 4; i += 1) {
        await few.api(entrant).delete(`/v1/photos/${last}`).expect(204);
        const next = await send(10 + i);
        expect(next.status).toBe(i < 3 ? 201 : 409);
        last = next.body.photoId;
      }
    } finally {
      await few.close();
    }
  });
});

describe('looking at a photo', () => {
  test('has the headers of something that is only a picture and only for who asked', async () => {
    const entry = await newEntry();
    const { body } = await sendPhoto(t, entry.entrant, entry.entryId, photo);
    const answer = await look('marshal', body.photoId);
    expect(answer.headers).toMatchObject({
      'content-type': 'image/jpeg',
      'cache-control': 'private, max-age=86400, immutable',
      etag: `"${body.contentHash}"`,
      'content-disposition': `inline; filename="${body.photoId}.jpg"`,
      'x-content-type-options': 'nosniff',
      'content-security-policy': "default-src 'none'; sandbox",
    });
    expect(answer.headers['vary']).toMatch(/authorization/i);
    const again = await t
      .api('marshal')
      .get(`/v1/photos/${body.photoId}`)
      .set('if-none-match', `"${body.contentHash}"`);
    expect([again.status, again.text]).toEqual([304, '']);
    const nobody = await t
      .api(undefined)
      .get(`/v1/photos/${body.photoId}`)
      .set('if-none-match', `"${body.contentHash}"`);
    expect(nobody.status).toBe(401);
    const list = await t.api(entry.entrant).get(`/v1/entries/${entry.entryId}/photos`);
    expect(list.body).toEqual({ photos: [body] });
  });

  test('a picture that was changed or lost in the store is never shown', async () => {
    const entry = await newEntry();
    const { body } = await sendPhoto(t, entry.entrant, entry.entryId, await makePhoto({ seed: 77 }));
    const { photos } = t.deps;
    const { get } = photos;
    try {
      photos.get = async () => undefined;
      const lost = await look('marshal', body.photoId);
      expect([lost.status, lost.headers['retry-after']]).toEqual([503, '30']);
    } finally {
      photos.get = get;
    }
    expect((await look('marshal', body.photoId)).status).toBe(200);
  });
});

describe('removing a photo', () => {
  test('hides it, leaves the row, and writes history', async () => {
    const entry = await newEntry();
    const { body } = await sendPhoto(t, entry.entrant, entry.entryId, photo, { position: 'FR.out' });
    await t.api(entry.entrant).delete(`/v1/photos/${body.photoId}`).expect(204);
    expect((await look('chief', body.photoId)).status).toBe(404);
    expect((await t.api('chief').get(`/v1/entries/${entry.entryId}/photos`)).body).toEqual({ photos: [] });
    expect((await t.api(entry.entrant).delete(`/v1/photos/${body.photoId}`)).status).toBe(404);
    expect((await rowsOf(entry.entryId))[0]?.removedAt?.toISOString()).toBe(TEST_NOW);
    expect((await historyOf(t, entry.entryId)).at(-1)).toMatchObject({
      action: 'photo.removed',
      data: { photoId: body.photoId, item: 'pad.thickness', position: 'FR.out', hash: body.contentHash },
    });
    // Sent again it is a new photo.
    expect((await sendPhoto(t, entry.entrant, entry.entryId, photo, { position: 'FR.out' })).status).toBe(201);
  });

  test('is for an entrant as long as the line has not decided, and only what an entrant sent', async () => {
    const entry = await newEntry();
    const mine = await sendPhoto(t, entry.entrant, entry.entryId, photo);
    const theirs = await sendPhoto(t, 'inspector', entry.entryId, await makePhoto({ seed: 5 }));
    const forbidden = await t.api(entry.entrant).delete(`/v1/photos/${theirs.body.photoId}`);
    expect([forbidden.status, forbidden.body.code]).toEqual([403, 'forbidden']);
    await accept(t, event, entry);
    const late = await t.api(entry.entrant).delete(`/v1/photos/${mine.body.photoId}`);
    expect([late.status, late.body.code, late.body.currentState]).toEqual([409, 'state-moved-on', 'expired']);
    // A lift that asks for another look does not open what the line decided with.
    const hold = await t.api('inspector').post(`/v1/entries/${entry.entryId}/holds`).send({ reason: 'leak' });
    await t.api('chief').post(`/v1/holds/${hold.body.holdId}/lift`).send({ reason: 'dry', requireReinspection: true });
    expect((await t.api(entry.entrant).delete(`/v1/photos/${mine.body.photoId}`)).status).toBe(409);
    await submit(t, entry);
    await t.api(entry.entrant).delete(`/v1/photos/${mine.body.photoId}`).expect(204);
    await t.api('chief').delete(`/v1/photos/${theirs.body.photoId}`).expect(204);
  });

  test('is not for another entrant, who does not learn that it is there', async () => {
    const [entry, other] = [await newEntry(), await newEntry()];
    const { body } = await sendPhoto(t, entry.entrant, entry.entryId, photo);
    const foreign = await t.api(other.entrant).delete(`/v1/photos/${body.photoId}`);
    const missing = await t.api(other.entrant).delete(`/v1/photos/${randomUUID()}`);
    expect([foreign.status, missing.status]).toEqual([404, 404]);
    expect(foreign.body.detail).toBe(missing.body.detail);
  });

  test('is not for a chief on a car of the own', async () => {
    const entry = await createTestEntry(t, event, { entrant: { name: 'Test chief' } });
    const { body } = await sendPhoto(t, 'inspector', entry.entryId, photo);
    const own = await t.api('chief').delete(`/v1/photos/${body.photoId}`);
    expect([own.status, own.body.code]).toEqual([403, 'conflict-of-interest']);
  });

  test('twice at once happens once', async () => {
    const entry = await newEntry();
    const { body } = await sendPhoto(t, entry.entrant, entry.entryId, photo);
    const remove = () => t.api('chief').delete(`/v1/photos/${body.photoId}`);
    const statuses = (await Promise.all([remove(), remove(), remove()])).map((answer) => answer.status);
    expect(statuses.toSorted()).toEqual([204, 404, 404]);
    expect((await actionsOf(t, entry.entryId)).filter((action) => action === 'photo.removed')).toHaveLength(1);
  });
});

test('form and claim name the photos of the car', async () => {
  const entry = await newEntry();
  const whole = await sendPhoto(t, entry.entrant, entry.entryId, photo);
  const wheel = await sendPhoto(t, entry.entrant, entry.entryId, await makePhoto({ seed: 3 }), { position: 'FL' });
  const pedal = await sendPhoto(t, 'inspector', entry.entryId, photo, { item: 'brake.pedal' });
  const { body: form } = await t.api(entry.entrant).get(`/v1/entries/${entry.entryId}/form`);
  const photosOf = (key: string) => form.items.find((item: { key: string }) => item.key === key).photos;
  expect(photosOf('pad.thickness')).toEqual([
    { photoId: whole.body.photoId },
    { photoId: wheel.body.photoId, position: 'FL' },
  ]);
  expect(photosOf('brake.pedal')).toEqual([{ photoId: pedal.body.photoId }]);
  expect(photosOf('radiator.debris')).toEqual([]);
  await submit(t, entry);
  const claimed = await claim(t, event, entry.carNumber);
  expect(claimed.body.photos).toEqual([
    { photoId: whole.body.photoId, item: 'pad.thickness' },
    { photoId: wheel.body.photoId, item: 'pad.thickness', position: 'FL' },
    { photoId: pedal.body.photoId, item: 'brake.pedal' },
  ]);
  await signOff(t, claimed.body.claimId, { decision: 'refuse', note: 'worn' });
});
