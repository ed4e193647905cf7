import { existsSync, readFileSync } from 'node:fs';
import { join, resolve } from 'node:path';
import fastifyStatic from '@fastify/static';
import type { FastifyInstance, FastifyReply } from 'fastify';
import type { Deps } from '../../deps.ts';
import { projectFolder } from './pages.ts';

const HIDDEN = { config: { access: 'public' }, schema: { hide: true } } as const;

/** Each has its name as address, and as folder in what the build made. */
const PAGES = ['garage', 'line', 'gate', 'office', 'enrol', 'car', 'shop', 'workshop'];

/** Files at the root that browsers ask for by fixed names. */
const ROOT_FILES = [
  'icon.svg',
  'icon-192.png',
  'icon-512.png',
  'icon-maskable-512.png',
  'gate.webmanifest',
  'worker.js',
];

/** Own scripts, styles, pictures and calls; nothing inline, nothing from elsewhere, and never in a frame. */
const CSP = [
  "default-src 'none'",
  "script-src 'self'",
  "style-src 'self'",
  "img-src 'self' data: blob:",
  "connect-src 'self'",
  "manifest-src 'self'",
  "worker-src 'self'",
  "base-uri 'none'",
  "form-action 'none'",
  "frame-ancestors 'none'",
].join(';');

const YEAR_SECONDS = 365 * 24 * 3600;

/** The pages for entrant, inspector, marshal and organizer: files that `npm run build` made. They only call the API. */
export async function pageRoutes(app: FastifyInstance, { config, log }: Deps): Promise<void> {
  const root = resolve(config.webDir ?? join(projectFolder(), 'dist', 'web'));
  if (!existsSync(join(root, 'gate', 'index.html'))) {
    log.warn({ root }, 'the pages are not built: run `npm run build`');
    return;
  }
  await app.register(fastifyStatic, { root, serve: false, preCompressed: true, cacheControl: false });
  // What was built before a page came does not have it.
  for (const name of PAGES.filter((page) => existsSync(join(root, page, 'index.html')))) {
    const html = readFileSync(join(root, name, 'index.html'));
    app.get(`/${name}`, HIDDEN, async (_request, reply) => {
      pageHeaders(reply);
      return reply.type('text/html; charset=utf-8').send(html);
    });
  }
  // Names carry a hash of the content, so that what a browser has is never another version.
  app.get('/assets/*', HIDDEN, async (request, reply) => {
    const { '*': name } = request.params as { '*': string };
    // The file server would fail at a way out of its folder, as if it were a fault of ours.
    if (/(?:^|[/\\])\.\.(?:[/\\]|$)|\0/.test(name)) return reply.callNotFound();
    reply.header('cache-control', `public, max-age=${YEAR_SECONDS}, immutable`);
    return reply.sendFile(`assets/${name}`);
  });
  for (const name of ROOT_FILES.filter((file) => existsSync(join(root, file)))) {
    app.get(`/${name}`, HIDDEN, async (_request, reply) => {
      pageHeaders(reply);
      return reply.sendFile(name);
    });
  }
}

function pageHeaders(reply: FastifyReply): void {
  reply.headers({ 'content-security-policy': CSP, 'cache-control': 'no-cache' });
}
