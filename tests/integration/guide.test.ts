import { execFile } from 'node:child_process';
import { mkdtemp, readFile, rm } from 'node:fs/promises';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { GUIDE } from '../../src/features/service/pages.ts';
import { startTestApp, type TestApp } from '../support/app.ts';

const ROOT = fileURLToPath(new URL('../..', import.meta.url));

let t: TestApp;
beforeAll(async () => {
  // the commands of the guide make days from the clock of the machine
  t = await startTestApp({ now: new Date().toISOString() });
});
afterAll(() => t.close());

test('every page of the guide is served, without script, and its links lead to pages', async () => {
  const api = t.api(undefined);
  for (const { name } of GUIDE) {
    const page = await api.get(`/docs/${name}`);
    expect(page.status, name).toBe(200);
    expect(page.headers['content-type']).toContain('text/html');
    expect(page.headers['content-security-policy']).toContain("default-src 'none'");
    expect(page.text).not.toContain('<script');
    // what a guide must never leave out
    expect(page.text, name).toMatch(/guarantees\s+a\s+safe\s+car/);
    const targets = [...page.text.matchAll(/href="([^"]+)"/g)].map((match) => match[1] ?? '');
    for (const target of targets) expect((await api.get(target).redirects(1)).status, `${name} ${target}`).toBe(200);
  }
});

test('the front page and the API documentation lead to the guide', async () => {
  const front = await t.api(undefined).get('/');
  const document = await t.api(undefined).get('/openapi.json');
  for (const { name } of GUIDE) {
    expect(front.text).toContain(`href="/docs/${name}"`);
    expect(document.body.info.description).toContain(`(/docs/${name})`);
  }
});

test('the commands of "Start of an own event" do what they say', async () => {
  const markdown = await readFile(join(ROOT, 'openapi/guide/start.md'), 'utf8');
  const script = [...markdown.matchAll(/```sh\n([\s\S]*?)```/g)].map((match) => match[1]).join('\n');
  const { token } = await t.mint('organizer');
  // A listening server has an address with a port.
  const { port } = t.app.server.address() as AddressInfo;
  const folder = await mkdtemp(join(tmpdir(), 'gridworthy-guide-'));
  try {
    const env = { ...process.env, BASE: `http://127.0.0.1:${port}`, ORGANIZER: token, TMPDIR: folder };
    const { stdout } = await promisify(execFile)('sh', ['-eu', '-c', script], { cwd: ROOT, env });
    const entrant = /"token":"([^"]+)"/.exec(stdout)?.[1] ?? '';
    const entryId = /"entryId":"([^"]+)"/.exec(stdout)?.[1] ?? '';
    const form = await t.api(undefined).get(`/v1/entries/${entryId}/form`).set('authorization', `Bearer ${entrant}`);
    expect(form.status).toBe(200);
    expect(form.body.items.length).toBeGreaterThan(50);
    expect(stdout).toContain('"code":');
  } finally {
    await rm(folder, { recursive: true });
  }
});
