import sharp from 'sharp';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { createConverter } from '../../src/features/declare/photos/add.ts';
import { ProblemError } from '../../src/http/frame/problem.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import { createTestEntry, createTestEvent, gate, type TestEvent } from '../support/event.ts';
import { makePhoto, sendPhoto } from '../support/photos.ts';
import { waitFor } from '../support/wait.ts';

let t: TestApp;
let event: TestEvent;

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t);
});
afterAll(() => t.close());

test('two pictures are read at once, six wait, others are told to come back', async () => {
  const noise = { type: 'gaussian', mean: 128, sigma: 60 } as const;
  const bytes = await sharp({ create: { width: 3000, height: 2500, channels: 3, background: '#000', noise } })
    .jpeg()
    .toBuffer();
  const convert = createConverter({ maxPixels: 50_000_000 });
  const results = await Promise.allSettled(
    Array.from({ length: 12 }, () => convert({ bytes, mediaType: 'image/jpeg' })),
  );
  const refused = results.flatMap((result) => (result.status === 'rejected' ? [result.reason] : []));
  expect(results.length - refused.length).toBeGreaterThanOrEqual(8);
  expect(refused.length).toBeGreaterThanOrEqual(1);
  for (const error of refused) {
    expect(error).toBeInstanceOf(ProblemError);
    expect(error).toMatchObject({ slug: 'photos-busy', headers: { 'retry-after': '5' } });
  }
  // Whoever comes back is served.
  expect((await convert({ bytes, mediaType: 'image/jpeg' })).width).toBe(2560);
});

test('sixteen uploads arrive at once; the next is refused before its body, and the gate answers meanwhile', async () => {
  const entry = await createTestEntry(t, event);
  const pictures = await Promise.all(Array.from({ length: 17 }, (_, index) => makePhoto({ seed: index })));
  const { put } = t.deps.photos;
  let letGo: () => void = () => undefined;
  const held = new Promise<void>((resolve) => {
    letGo = resolve;
  });
  let stored = 0;
  t.deps.photos.put = async (hash, bytes) => {
    stored += 1;
    await held;
    await put(hash, bytes);
  };
  const send = async (picture: Buffer) => sendPhoto(t, entry.entrant, entry.entryId, picture);
  try {
    const under = pictures.slice(0, 16).map(async (picture, index) => {
      // One after the other, so that the queue of conversions has room for each.
      await waitFor('its turn', () => stored >= index);
      return send(picture);
    });
    await waitFor('all sixteen', () => stored === 16);
    const over = await send(pictures[16] ?? Buffer.alloc(0));
    expect([over.status, over.body.code, over.headers['retry-after']]).toEqual([503, 'photos-busy', '5']);
    expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: false, status: 'no-declaration' });
    letGo();
    expect(new Set((await Promise.all(under)).map((answer) => answer.status))).toEqual(new Set([201]));
  } finally {
    letGo();
    t.deps.photos.put = put;
  }
  expect((await send(pictures[16] ?? Buffer.alloc(0))).status).toBe(201);
});

test('a sender who hangs up gives the place back', async () => {
  const entry = await createTestEntry(t, event);
  const { port } = t.app.server.address() as { port: number };
  const url = `http://127.0.0.1:${port}/v1/entries/${entry.entryId}/photos?item=pad.thickness`;
  for (let round = 0; round < 20; round += 1) {
    const hangUp = new AbortController();
    const body = new ReadableStream({
      start: (controller) => controller.enqueue(new Uint8Array([0xff, 0xd8, 0xff])),
    });
    const headers = { authorization: `Bearer ${entry.entrant.token}`, 'content-type': 'image/jpeg' };
    const request = fetch(url, { method: 'POST', headers, body, duplex: 'half', signal: hangUp.signal });
    setTimeout(() => hangUp.abort(), 30);
    await expect(request).rejects.toThrow();
  }
  const answer = await sendPhoto(t, entry.entrant, entry.entryId, await makePhoto());
  expect(answer.status, answer.text).toBe(201);
});
